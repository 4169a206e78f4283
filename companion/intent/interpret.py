"""From text to a decision; ``interpret``, from a tagged tree to intents, is offered here too."""

from __future__ import annotations

from collections.abc import Sequence

from companion.grammar.compiled import CallGrammar
from companion.handbook.unit_table import UNITS
from companion.intent.doubt import TO_QUESTIONS, far_from_expected, is_expected
from companion.intent.intents import Intent
from companion.intent.meaning import call_sign_length, interpret
from companion.intent.outcome import Decision, Listening
from companion.intent.refused import turned_around, why_refused
from companion.intent.tenfold import tenfold
from companion.intent.text import respelled, typed_words
from companion.intent.thresholds import DEFAULT, Thresholds
from companion.intent.understood import Understood, exactly, nearly, note_in, serial_in
from companion.intent.unit_needed import unit_needed

__all__ = ["interpret", "understand"]


def understand(
    text: str, grammar: CallGrammar, listening: Listening, thresholds: Thresholds = DEFAULT
) -> Decision:
    """Decide what becomes of a typed call.

    Args:
        text: As typed; digits, symbols, punctuation and either spelling are fine.
        grammar: What may be said.
        listening: What the decision needs to know besides.
        thresholds: How sure is sure enough.

    Returns:
        ``record`` if it is a call as it stands, or as good as; ``ask`` if it may mean two things,
        is far from the spec, or is only nearly a call; ``say-again``, with the reason, if it is
        none.
    """
    readings = _wordings(text, grammar)
    if not readings[0]:
        return Decision("say-again", "", (), 0.0, ("nothing was typed",))
    if listening.call_sign_needed and not call_sign_length(readings[0], grammar):
        return Decision("ignore", "", (), 0.0, ("no call sign",))
    note = note_in(text, grammar)
    if note is not None:
        return Decision("record", note.text, note.intents, 1.0, ())
    for words in readings:
        call = exactly(words, grammar, listening)
        if call is not None:
            return record_or_ask((call,), listening, thresholds)
    serial = serial_in(text, grammar)
    if serial is not None:
        return Decision("record", serial.text, serial.intents, 1.0, ())
    heard = " ".join(readings[0])
    for words in readings if turned_around(readings[0], grammar) is None else ():
        reason = unit_needed(words, grammar)
        if reason is not None:
            return Decision("say-again", heard, (), 0.0, (reason,))
    # Whichever spelling is nearest; of two ways to word a fraction, the usual one.
    spellings = respelled(typed_words(text)[0], grammar.words)
    near = [nearly(words, grammar, listening, thresholds) for words in spellings]
    nearest = max(near, key=lambda calls: calls[0].confidence if calls else 0.0)
    if nearest:
        return record_or_ask(nearest, listening, thresholds)
    return Decision("say-again", heard, (), 0.0, (why_refused(readings[0], grammar),))


def record_or_ask(
    calls: Sequence[Understood],
    listening: Listening,
    thresholds: Thresholds,
    doubts: Sequence[str] = (),
) -> Decision:
    """Decide between recording and asking, for calls that were understood.

    Args:
        calls: Of different meaning, the likeliest first; with more than one the question goes
            through them.
        listening: What the decision needs to know besides.
        thresholds: How sure is sure enough.
        doubts: What speaks against the first already.
    """
    best = calls[0]
    if best.intents[0].intent in TO_QUESTIONS and not listening.answer_awaited:
        return Decision("ignore", "", (), best.confidence, ("no question is open",))
    reasons = [*best.changes, *doubts]
    asks = list(doubts)
    if not best.sure:
        asks.append("nearly a call")
    if best.manner.asked:
        asks.append("said in another form than the one it is acted on in")
    assumed = best.manner.assumed
    if assumed is not None and not is_expected(best.intents[0], listening):
        # Outside its window another unit may have been meant.
        asks.append(f"no unit was called: {UNITS[assumed].plural}")
    if len(best.intents) > 1:
        values = " or ".join(_differing(intent) for intent in best.intents)
        asks.append(f"may mean {values}")
    if len(calls) > 1 and not doubts:
        asks.extend(f"close rival: {call.text}" for call in calls[1:])
    far = far_from_expected(best.intents[0], listening, thresholds)
    if far is not None:
        asks.append(far)
    slip = tenfold(best.intents[0], listening, thresholds) if len(best.intents) == 1 else None
    if slip is not None:
        asks.append(f"ten times off: {_number(best.intents[0])} or {_number(slip)}")
    reasons.extend(reason for reason in asks if reason not in reasons)
    if not asks:
        return Decision("record", best.text, best.intents, best.confidence, tuple(reasons))
    # The call as it was said is asked about first: a "yes" without thinking must not record a
    # guess.
    first = () if slip is None else (best.intents[0], slip)
    others = (
        intent
        for call in calls
        # Of two numbers, the one that the spec sheet expects is asked about first.
        for intent in sorted(call.intents, key=lambda one: not is_expected(one, listening))
    )
    asked = tuple(dict.fromkeys((*first, *others)))[: thresholds.most_candidates]
    return Decision("ask", best.text, asked, best.confidence, tuple(reasons))


def _wordings(text: str, grammar: CallGrammar) -> tuple[tuple[str, ...], ...]:
    """Every way to put a text into words, in every spelling; the usual one first."""
    return tuple(
        dict.fromkeys(
            words for typed in typed_words(text) for words in respelled(typed, grammar.words)
        )
    )


def _differing(intent: Intent) -> str:
    """The number, or else the name, in which two meanings of a sentence differ."""
    names = ("value", "seconds", "size", "serial")
    return _number(intent) if any(hasattr(intent, name) for name in names) else intent.intent


def _number(intent: Intent) -> str:
    """The number in which two meanings of a sentence differ."""
    names = ("value", "seconds", "size", "serial")
    value = next(getattr(intent, name) for name in names if hasattr(intent, name))
    if isinstance(value, str):
        return value
    return format(value, "f") if not isinstance(value, float) else f"{value:g}"
