"""One sentence that a text or a hypothesis is taken for, and what it means."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from companion.grammar.compiled import CallGrammar
from companion.grammar.free_speech import LONGEST_OPENING
from companion.intent.doubt import ANSWERS, has_number
from companion.intent.intents import Finding, Intent, Note, Serial, StartCheck, TagClear, Work
from companion.intent.match import Match, nearest
from companion.intent.meaning import PLAIN, Manner, call_sign_length, manner, meanings
from companion.intent.number_alone import with_number_alone
from companion.intent.outcome import Listening
from companion.intent.spelling import typed_serial
from companion.intent.text import UNKNOWN, respelled, typed_words
from companion.intent.thresholds import Thresholds


@dataclass(frozen=True, slots=True)
class Understood:
    """A sentence of the grammar and its meaning.

    Attributes:
        words: The sentence.
        intents: Every intent that it can mean, the most usual first.
        confidence: 0 to 1, that this is what was said or meant.
        call_sign: Whether it opens with the call sign.
        changes: How it differs from what was written or heard.
        sure: Whether those differences are beyond doubt.
        manner: How it was put.
        number_alone: Whether it is no more than the number of what is asked about.
    """

    words: tuple[str, ...]
    intents: tuple[Intent, ...]
    confidence: float
    call_sign: bool
    changes: tuple[str, ...] = ()
    sure: bool = True
    manner: Manner = PLAIN
    number_alone: bool = False

    @property
    def text(self) -> str:
        """The sentence as one string."""
        return " ".join(self.words)


def exactly(
    words: Sequence[str], grammar: CallGrammar, listening: Listening, confidence: float = 1.0
) -> Understood | None:
    """Take words that are a sentence of the grammar as what they are; None if they are not.

    While a reading or a volume is asked about, its number alone is as good as the whole call.

    Args:
        words: Lower case.
        grammar: What may be said.
        listening: What the decision needs to know besides.
        confidence: How sure the recognizer is of the words, 0 to 1.
    """
    intents = meanings(words, grammar, listening.ounce, listening.correcting_unit)
    alone = () if intents else with_number_alone(words, grammar, listening)
    if not intents and not alone:
        return None
    return Understood(
        tuple(words),
        intents or alone,
        confidence,
        call_sign_length(words, grammar) > 0,
        manner=manner(words, grammar),
        number_alone=bool(alone),
    )


def nearly(
    words: Sequence[str],
    grammar: CallGrammar,
    listening: Listening,
    thresholds: Thresholds,
    confidence: float = 1.0,
) -> tuple[Understood, ...]:
    """Take words for the sentences of the grammar nearest to them, by their carrier words.

    Args:
        words: Lower case.
        grammar: What may be said.
        listening: What the decision needs to know besides.
        thresholds: How sure is sure enough.
        confidence: How sure the recognizer is of the words, 0 to 1.

    Returns:
        Sentences of different meaning, the nearest first, with those that are as good as the first;
        neither answers nor what is only asked about are guessed at.
    """
    found: list[Understood] = []
    matches = nearest(words, grammar, thresholds)
    for match in matches:
        if match.difference - matches[0].difference > thresholds.close_match:
            break
        intents = meanings(match.words, grammar, listening.ounce, listening.correcting_unit)
        put = manner(match.words, grammar)
        # A form that is always asked about is never guessed, and neither is an answer.
        guessed = match.respelled and (
            (put.asked and not match.sure) or any(intent.intent in ANSWERS for intent in intents)
        )
        if not intents or guessed or any(_same(intents, other.intents) for other in found):
            continue
        found.append(
            Understood(
                match.words,
                intents,
                confidence * max(0.0, 1 - match.difference / len(match.words)),
                call_sign_length(match.words, grammar) > 0,
                match.changes,
                _beyond_doubt(match, intents),
                put,
            )
        )
    return tuple(found)


def _same(farther: tuple[Intent, ...], nearer: tuple[Intent, ...]) -> bool:
    """Whether two sentences mean the same, but for one part or all of its kind: of "filter" and
    "filters", the nearer to what was written is meant."""
    return of_one(farther) == of_one(nearer)


def of_one(intents: tuple[Intent, ...]) -> tuple[Intent, ...]:
    """Return what a call means if one part was called and not all of its kind."""
    return tuple(
        intent.model_copy(update={"every": False}) if isinstance(intent, Finding | Work) else intent
        for intent in intents
    )


def from_call_sign(words: Sequence[str], grammar: CallGrammar) -> tuple[str, ...]:
    """Leave out sounds that were no word before the call sign: they belong to no call."""
    for at, word in enumerate(words):
        if call_sign_length(words[at:], grammar):
            return tuple(words[at:])
        if word != UNKNOWN:
            break
    return tuple(words)


def note_in(text: str, grammar: CallGrammar) -> Understood | None:
    """Take text that opens as a note or a complaint as one, with the words that follow as they
    stand."""
    # The longest opening counts: all of "take a note for me" belongs to it.
    ends = [found.end() for found in re.finditer(r"\S+", text)][:LONGEST_OPENING]
    for end in reversed(ends):
        opening = typed_words(text[:end])[0]
        for words in respelled(opening, grammar.words):
            for intent in meanings(words, grammar):
                if isinstance(intent, Note):
                    said = text[end:].strip(" \t\r\n,:;.")
                    signed = call_sign_length(words, grammar) > 0
                    note = intent.model_copy(update={"text": said or None})
                    return Understood(words, (note,), 1.0, signed)
    return None


def serial_in(text: str, grammar: CallGrammar) -> Understood | None:
    """Take a typed serial number as it stands, whatever letters and signs it has."""
    serial = typed_serial(text)
    words = typed_words(text)[0]
    signed = call_sign_length(words, grammar)
    if serial is None or "serial" not in words[signed:]:
        return None
    begun = words[signed : words.index("serial", signed)]
    if words[signed + len(begun) :][:2] != ("serial", "number"):
        return None
    machine = None
    if begun:
        # Only what the grammar accepts may stand before it.
        called = meanings((*begun, "serial", "number", "one"), grammar)
        machine = next((each.machine for each in called if isinstance(each, Serial)), None)
        if machine is None:
            return None
    call = Serial(serial=serial, machine=machine)
    return Understood((*begun, "serial", "number"), (call,), 1.0, signed > 0)


def _beyond_doubt(match: Match, intents: tuple[Intent, ...]) -> bool:
    """Whether a near match needs no question: its changes are sure, and a slip would do no harm."""
    harmful = (TagClear, StartCheck)
    return match.sure and not (
        match.respelled
        and any(has_number(intent) or isinstance(intent, harmful) for intent in intents)
    )
