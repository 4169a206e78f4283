"""Record, ask, say again or ignore: what becomes of an utterance, and why."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

from companion.grammar.compiled import CallGrammar
from companion.intent.context import weighed
from companion.intent.doubt import (
    ANSWERS,
    ENDING,
    TO_QUESTIONS,
    corrected_by_wait,
    differ_by_opposites,
    differ_by_two,
    fits_what_it_corrects,
    has_number,
    in_unit_corrected,
    sound_alike,
    teen_before_n,
    tens_in_two_words,
    thousandths_in_two_places,
)
from companion.intent.fitting import by_fit
from companion.intent.heard_before import (
    EITHER_SHARE,
    agree,
    call_confidence_together,
    differ,
    hearing_of,
    same_call,
    together,
)
from companion.intent.heard_turned import call_written, heard_turned, opposite_written
from companion.intent.intents import Fluid, Intent, Note, Part, Reading
from companion.intent.interpret import record_or_ask
from companion.intent.meaning import call_sign_length
from companion.intent.one_or_all import is_one_or_all, one_or_all
from companion.intent.outcome import Decision, Expectation, Figure, Listening, Outcome
from companion.intent.refused import why_refused
from companion.intent.second import SecondOpinion, same_but_for_figures, second_opinion
from companion.intent.short_words import answers_alone, needs_call_sign
from companion.intent.text import UNKNOWN, typed_words
from companion.intent.thresholds import DEFAULT, Thresholds
from companion.intent.understood import (
    Understood,
    exactly,
    from_call_sign,
    nearly,
    note_in,
)
from companion.recognize.protocol import Hypothesis, Recognition

__all__ = ["Decision", "Expectation", "Listening", "Outcome", "Thresholds", "decide_utterance"]

_MATCHED_BY_LIKENESS = 3
"""Of hypotheses that are no sentence of the grammar, this many are matched by likeness."""


SHORT_ANSWER = "a short answer needs the call sign: affirm and negative do not"
"""Why a short answer in open mic is not taken, as it is spoken."""

_LESS = 0.999
"""A share that is smaller by less than this is as it was."""

HEARD_TWICE = "heard alike twice"
"""Why a call is taken that neither hearing alone was sure enough of."""

HEARD_OTHERWISE = "heard otherwise before"
"""Why a call is asked about that this hearing alone was sure enough of."""

ANOTHER_NUMBER = "another number than those asked about"
"""Why a number alone is asked about, however surely it was heard."""

MAY_BE_NOPE = "a question is open, and 'note' sounds like 'nope'"
"""Why a note that came instead of an answer is to be said again."""


def decide_utterance(
    recognition: Recognition,
    grammar: CallGrammar,
    listening: Listening,
    thresholds: Thresholds = DEFAULT,
) -> Decision:
    """Decide what becomes of an utterance.

    Hypotheses of equal meaning count together, so that a rival is another meaning and not another
    wording. The same call heard just before counts as well (``companion.intent.heard_before``), and
    so does what the job expects of a figure (``companion.intent.fitting``).

    Args:
        recognition: The ranked hypotheses of one engine.
        grammar: What may be said; the one that the engine was held to.
        listening: What the decision needs to know besides.
        thresholds: How sure is sure enough.
    """
    by_sound: list[Understood] = []
    if recognition.hypotheses:
        understood = _understood(recognition, grammar, listening, thresholds)
        by_sound = _by_meaning(understood, listening)
    sure = recognition.call_confidence
    decision = _decided(by_sound, sure, recognition, grammar, listening, thresholds)
    before = listening.before
    if before is not None and same_call(by_sound, before):
        agreed = agree(by_sound, before)
        both = _decided(
            together(by_sound, before),
            call_confidence_together(sure, by_sound, before) if agreed else sure,
            recognition,
            grammar,
            listening,
            _for_twice(thresholds) if agreed else thresholds,
        )
        # What agrees only makes surer, and what differs only less sure.
        if agreed and decision.outcome in ("ask", "say-again") and both.outcome == "record":
            decision = replace(both, reasons=(*both.reasons, HEARD_TWICE))
        elif differ(by_sound, before) and decision.outcome == "record" and both.outcome != "record":
            decision = replace(both, reasons=(*both.reasons, HEARD_OTHERWISE))
    return replace(decision, hearing=hearing_of(by_sound, sure))


def _decided(
    by_sound: Sequence[Understood],
    sure_call: float,
    recognition: Recognition,
    grammar: CallGrammar,
    listening: Listening,
    thresholds: Thresholds,
) -> Decision:
    """As ``decide_utterance``, of what may be meant by the sound alone and how sure it is that this
    was a call."""
    if not recognition.hypotheses:
        signless = listening.call_sign_needed
        return _ignored(0.0, "no call sign" if signless else "nothing was heard")
    spoken_note = _spoken_note(recognition, grammar, listening)
    if spoken_note is not None:
        return spoken_note
    # What the sound alone makes sure of, nothing that is awaited makes less so.
    sure = bool(by_sound) and by_sound[0].confidence >= thresholds.number
    likely = by_sound if sure else weighed(by_sound, listening, grammar)
    calls = by_fit(likely, listening)
    heard = recognition.hypotheses[0]
    best = calls[0] if calls else None
    signed = (
        best.call_sign
        if best
        else call_sign_length(from_call_sign(heard.text.split(), grammar), grammar) > 0
    )
    if listening.call_sign_needed and not signed:
        return _ignored(0.0, "no call sign")
    if sure_call < thresholds.call:
        return _no_call(recognition, grammar, listening, best)
    if best is not None and listening.open_mic and not signed and needs_call_sign(best.words):
        if listening.answer_awaited and answers_alone(best.words):
            return Decision("say-again", best.text, (), best.confidence, (SHORT_ANSWER,))
        return _ignored(best.confidence, "a short word without the call sign")
    if best is not None and best.number_alone and not _may_answer(best, listening):
        return _ignored(best.confidence, "a number without the call sign")
    if best is None:
        return _not_understood(heard, grammar)
    turned = heard_turned(best, recognition, grammar, thresholds)
    if turned is not None:
        return Decision("say-again", best.text, (), best.confidence, (turned,))
    opposite = opposite_written(best, recognition)
    if opposite is not None:
        return _which_of_two(best, opposite, recognition, grammar, listening, thresholds)
    answer = best.intents[0].intent in ANSWERS
    opinion = second_opinion(best, recognition.second, grammar, listening, thresholds)
    excluded = _not_meant(likely, calls)
    doubts, rivals = _doubts(calls, sure_call, thresholds, opinion, excluded)
    if recognition.otherwise is not None and recognition.otherwise[0] in best.words:
        doubts.append(f"sounds like: {recognition.otherwise[1]}")
    if best.intents[0].intent in TO_QUESTIONS and not listening.answer_awaited:
        return _ignored(best.confidence, "no question is open")
    # Asking "was that an affirm?" would only need another one; and a question about a call that was
    # hardly heard is more often wrong than right.
    if doubts and (answer or likely[0].confidence < thresholds.worth_asking):
        return Decision("say-again", best.text, (), best.confidence, tuple(doubts))
    # A question about it would replace the one that is open.
    if listening.answer_awaited and _may_be_nope(best, recognition, grammar):
        return Decision("say-again", best.text, (), best.confidence, (MAY_BE_NOPE,))
    if best.number_alone and not _was_asked_about(best, listening):
        doubts.append(ANOTHER_NUMBER)
    decision = record_or_ask((best, *rivals), listening, thresholds, doubts)
    if decision.outcome == "ask" and set(decision.reasons) <= set(doubts):
        figure = _figure(calls, rivals, sure_call, thresholds)
        decision = replace(decision, figure=figure)
    if opinion is None or not opinion.agrees:
        return decision
    return replace(decision, reasons=(*decision.reasons, "second agrees"))


def _understood(
    recognition: Recognition, grammar: CallGrammar, listening: Listening, thresholds: Thresholds
) -> list[Understood]:
    """The meanings of each hypothesis; those without any are left out.

    A correction in a unit that cannot be meant is no hypothesis at all, nor is a note where a
    question is open and the transcript has "nope": the others share what it was given.
    """
    found: list[Understood] = []
    matched = 0
    excluded = 0.0
    denied = listening.answer_awaited and _transcript_denies(recognition)
    for hypothesis in recognition.hypotheses:
        words = from_call_sign(hypothesis.text.split(), grammar)
        call = exactly(words, grammar, listening, hypothesis.confidence)
        if call is not None:
            if denied and words == ("note",):
                excluded += hypothesis.confidence
            elif fits_what_it_corrects(call.intents[0], listening):
                found.append(call)
            else:
                excluded += hypothesis.confidence
        elif matched < _MATCHED_BY_LIKENESS and set(words) != {UNKNOWN}:
            matched += 1
            confidence = hypothesis.confidence
            found.extend(nearly(words, grammar, listening, thresholds, confidence)[:1])
    if excluded:
        left = max(1.0 - excluded, sum(call.confidence for call in found), 1e-9)
        found = [replace(call, confidence=min(1.0, call.confidence / left)) for call in found]
    return found


def _by_meaning(calls: Sequence[Understood], listening: Listening) -> list[Understood]:
    """Join calls of equal meaning, adding up their confidences; the likeliest first."""
    joined: dict[tuple[Intent, ...], list[Understood]] = {}
    for call in calls:
        meaning = tuple(in_unit_corrected(intent, listening) for intent in call.intents)
        joined.setdefault(meaning, []).append(call)
    together = [
        replace(likeliest, confidence=min(1.0, sum(call.confidence for call in same)))
        for same in joined.values()
        for likeliest in (max(same, key=lambda call: call.confidence),)
    ]
    return one_or_all(sorted(together, key=lambda call: -call.confidence))


def _doubts(
    calls: Sequence[Understood],
    call_confidence: float,
    thresholds: Thresholds,
    opinion: SecondOpinion | None = None,
    not_meant: Collection[tuple[str, ...]] = (),
) -> tuple[list[str], list[Understood]]:
    """What speaks against the best meaning, and the other meanings that are too close to it.

    Args:
        calls: What may be meant, the likeliest first.
        call_confidence: Probability that it was a call.
        thresholds: How sure is sure enough.
        opinion: Of a second recognizer, if there is one.
        not_meant: See ``_not_meant``.
    """
    best = calls[0]
    if best.number_alone:
        thresholds = replace(
            thresholds,
            number=thresholds.number_alone,
            number_agreed=thresholds.number_alone,
            rival_share=thresholds.alone_rival_share,
            sound_alike_share=thresholds.alone_rival_share,
        )
    numbers = any(has_number(intent) for intent in best.intents)
    agreed = opinion is not None and opinion.agrees
    # The call sign is found by its own sound, and speaks for a call by itself.
    if call_confidence < thresholds.sure_number and not best.call_sign:
        surer = max(thresholds.number, thresholds.number_less_sure)
        thresholds = replace(thresholds, number=surer)
    needed, answer_rival = _needed(best.intents[0], thresholds, numbers=numbers, agreed=agreed)
    ending = best.intents[0].intent in ENDING
    clear = thresholds.clear_number if numbers or ending else thresholds.clear_call
    doubts: list[str] = []
    if call_confidence < clear:
        doubts.append("may be no call")
    if best.confidence < needed:
        doubts.append("low confidence")
    tens = tens_in_two_words(best.words)
    if tens is not None:
        doubts.append(f"sounds like: {tens}")
    if thousandths_in_two_places(best.words):
        doubts.append("a digit may be lost")
    if corrected_by_wait(best.words, best.intents[0]):
        doubts.append("a measure may sound like it")
    alike_share = thresholds.sound_alike_share
    before_n = teen_before_n(best.words)
    if before_n:
        alike_share = min(alike_share, thresholds.before_n_share)
    rivals: list[Understood] = []
    if opinion is not None and not opinion.agrees:
        doubts.append(f"second hears: {opinion.call.text}")
        rivals.append(opinion.call)
    for other in calls[1:]:
        share = other.confidence / best.confidence if best.confidence else 1.0
        alike = sound_alike(best.words, other.words)
        close = alike_share if alike else thresholds.rival_share
        known = other.words in not_meant
        if not (alike or known) and differ_by_two(best.words, other.words, teens=before_n):
            alike = True
            close = min(close, alike_share if before_n else thresholds.two_share)
        if not isinstance(best.intents[0], Part) and differ_by_opposites(best.words, other.words):
            close = min(close, thresholds.opposite_share)
        if is_one_or_all(best, other):
            # One that is too unlikely was left out before.
            close = 0.0
        if share >= (close if answer_rival is None else answer_rival):
            doubts.append(f"{'sounds like' if alike else 'close rival'}: {other.text}")
            rivals.append(other)
    return doubts, rivals


def _which_of_two(
    best: Understood,
    opposite: str,
    recognition: Recognition,
    grammar: CallGrammar,
    listening: Listening,
    thresholds: Thresholds,
) -> Decision:
    """Ask about the call that the free transcript has, where it is the opposite of what was heard
    with the words of the calls alone; where it has none, the call is to be said again."""
    written = call_written(recognition, best, grammar, listening)
    if written is None or best.intents[0].intent in ANSWERS:
        return Decision("say-again", best.text, (), best.confidence, (opposite,))
    return record_or_ask((written, best), listening, thresholds, (opposite,))


def _not_meant(likely: Sequence[Understood], fitted: Sequence[Understood]) -> set[tuple[str, ...]]:
    """The words of what the figures that the job expects speak against, beside the best.

    Args:
        likely: Before these figures were looked at.
        fitted: The same calls afterwards, the best first.
    """
    before = {call.words: call.confidence for call in likely}
    return {
        other.words
        for best in fitted[:1]
        for other in fitted[1:]
        if other.confidence * before[best.words] < before[other.words] * best.confidence * _LESS
    }


def _figure(
    calls: Sequence[Understood],
    rivals: Sequence[Understood],
    call_confidence: float,
    thresholds: Thresholds,
) -> Figure | None:
    """How to ask where nothing but the figure of a reading or a volume is in doubt: what is
    measured, or moved, and in which unit was heard as surely as a call without a number must be."""
    best = calls[0]
    meant = best.intents[0]
    if not isinstance(meant, Reading | Fluid) or len(best.intents) > 1:
        return None
    kind = sum(call.confidence for call in calls if _same_but_for_value(meant, call.intents[0]))
    if kind < thresholds.record or call_confidence < thresholds.clear_call:
        return None
    if not all(
        len(rival.intents) == 1 and _same_but_for_value(meant, rival.intents[0]) for rival in rivals
    ):
        return None
    close = bool(rivals) and rivals[0].confidence >= EITHER_SHARE * best.confidence
    return "either" if close else "one"


def _same_but_for_value(one: Intent, other: Intent) -> bool:
    """Whether two calls differ in nothing but a value in the same unit."""
    return same_but_for_figures(one, other) and getattr(one, "unit", None) == getattr(
        other, "unit", None
    )


def _may_answer(best: Understood, listening: Listening) -> bool:
    """Whether a number alone may be taken: in open mic somebody else may say one, and without the
    call sign only those that are asked about count."""
    return not listening.open_mic or best.call_sign or _was_asked_about(best, listening)


def _was_asked_about(best: Understood, listening: Listening) -> bool:
    """Whether a number alone is one of those that the open question is about. By voice another one
    is asked about in its turn: a word or two in noise are too little to record by."""
    return set(best.intents) <= set(listening.doubted)


def _for_twice(thresholds: Thresholds) -> Thresholds:
    """What a call needs that was heard alike twice."""
    twice = thresholds.number_twice
    opposite = thresholds.rival_share
    return replace(thresholds, number=twice, number_less_sure=twice, opposite_share=opposite)


def _needed(
    best: Intent, thresholds: Thresholds, *, numbers: bool, agreed: bool
) -> tuple[float, float | None]:
    """The confidence that a call needs, and of an answer the share of a rival that is too close."""
    if best.intent == "negative":
        return thresholds.negative, thresholds.negative_rival_share
    if best.intent in ANSWERS:
        return thresholds.answer, thresholds.answer_rival_share
    if numbers:
        return thresholds.number_agreed if agreed else thresholds.number, None
    return thresholds.record, None


def _spoken_note(
    recognition: Recognition, grammar: CallGrammar, listening: Listening
) -> Decision | None:
    """A note, where an engine hears one and its free transcript opens with one.

    What follows "note" is free speech, which no engine that is held to the grammar can believe in:
    its call confidence says nothing here.
    """
    draft = note_in(recognition.transcript, grammar) if recognition.transcript else None
    if draft is None:
        return None
    if (
        listening.answer_awaited
        and isinstance(draft.intents[0], Note)
        and not draft.intents[0].text
    ):
        # A "nope" that answers is written "Note" too; a note without a word is none to miss.
        return None
    for hypothesis in recognition.hypotheses:
        call = exactly(hypothesis.text.split(), grammar, listening, hypothesis.confidence)
        if call is None or not isinstance(call.intents[0], Note):
            continue
        if listening.call_sign_needed and not call.call_sign:
            return None
        return Decision("record", call.text, draft.intents, call.confidence, ())
    return None


def _transcript_denies(recognition: Recognition) -> bool:
    """Whether the free transcript is a "no" or a "nope" and nothing else."""
    words = typed_words(recognition.transcript)[0] if recognition.transcript else ()
    return len(words) == 1 and words[0] in ("no", "nope")


def _may_be_nope(best: Understood, recognition: Recognition, grammar: CallGrammar) -> bool:
    """Whether what was taken for "note" may have been "nope": its free transcript opens no note.

    A note that it does open was taken before; without a transcript there is nothing else to judge
    by.
    """
    words = best.words[call_sign_length(best.words, grammar) :]
    return words == ("note",) and recognition.transcript is not None


def _no_call(
    recognition: Recognition,
    grammar: CallGrammar,
    listening: Listening,
    best: Understood | None,
) -> Decision:
    """Ignore talk; ask again where a key was held, or where the call sign was plainly said.

    An engine that is held to the grammar may hear the call sign in anything: only its free
    transcript counts as plainly.
    """
    confidence = best.confidence if best else 0.0
    key_held = not listening.call_sign_needed and not listening.answer_awaited
    transcript = typed_words(recognition.transcript)[0] if recognition.transcript else ()
    if key_held or (listening.call_sign_needed and call_sign_length(transcript, grammar)):
        text = best.text if best else recognition.hypotheses[0].text
        return Decision("say-again", text, (), confidence, ("no call of the grammar",))
    return _ignored(confidence, "no call of the grammar")


def _not_understood(heard: Hypothesis, grammar: CallGrammar) -> Decision:
    """Ask again for a call that is not known; the reason says what is missing."""
    words = [word for word in heard.text.split() if word != UNKNOWN]
    if not words:
        return _ignored(0.0, "no words of the grammar")
    reason = why_refused(heard.text.split(), grammar)
    return Decision("say-again", heard.text, (), 0.0, (reason,))


def _ignored(confidence: float, reason: str) -> Decision:
    return Decision("ignore", "", (), confidence, (reason,))
