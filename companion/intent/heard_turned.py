"""Whether what was heard beside a call would turn it around.

An engine that is held to the words of the calls has no "not" for "the oil level is not full": what
remains is the call that says the opposite. Where its other hypotheses or its free transcript hold
the word that was lost, the call is neither recorded nor asked about.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from companion.grammar.compiled import CallGrammar
from companion.intent.opposites import NEGATIONS, TURNING, opposites, turned_forms
from companion.intent.outcome import Listening
from companion.intent.refused import TURNED_AROUND, UNKNOWN_WORD, turned_around
from companion.intent.text import UNKNOWN, respelled, typed_words
from companion.intent.thresholds import Thresholds
from companion.intent.understood import Understood, exactly, from_call_sign
from companion.recognize.protocol import Recognition

_SOUNDS_LIKE_OTHERS = frozenset({"no", "nor", "nay", "none", "un", "dis", "nt", "nah"})
"""Denials that a free transcript also writes for other words ("note", "oh", "nine", "know")."""

_ASKED_OF = frozenset({"i", "we", "it"})
"""Words that follow the verb only in a question: "can we start", but "can smell gas"."""


def heard_turned(
    best: Understood, recognition: Recognition, grammar: CallGrammar, thresholds: Thresholds
) -> str | None:
    """Return the reason where something was heard that turns the call around.

    Args:
        best: The likeliest meaning.
        recognition: All that the engine made of the utterance.
        grammar: What may be said.
        thresholds: Which share of the best meaning's confidence makes a rival.

    Returns:
        A reason to say it again, or None. A hypothesis counts that is the call but for a word that
        denies, a word turned around or one that the engine did not know, and is no call itself: it
        cannot be asked about like other rivals.
    """
    for hypothesis in recognition.hypotheses:
        if hypothesis.confidence < thresholds.rival_share * best.confidence:
            continue
        words = from_call_sign(hypothesis.text.split(), grammar)
        reason = _turns(words, best.words, grammar)
        if reason is not None:
            return reason
    return _turned_in_transcript(_transcript(recognition), best.words)


def _turns(words: Sequence[str], call: Sequence[str], grammar: CallGrammar) -> str | None:
    end = grammar.walk(words)
    if tuple(words) == tuple(call) or (end is not None and grammar.is_final(end)):
        return None
    if UNKNOWN in words and _is_left(call, words):
        return UNKNOWN_WORD
    if not _overlap(words, call):
        return None
    for word in words:
        if word in TURNING and words.count(word) > call.count(word):
            return f"'{word}' {TURNED_AROUND}"
    return turned_around(words, grammar)


def _is_left(call: Sequence[str], words: Sequence[str]) -> bool:
    """Whether a call is what other words hold too, in this order."""
    rest = iter(words)
    return all(word in rest for word in call)


def _overlap(words: Sequence[str], call: Sequence[str]) -> bool:
    """Whether half the words of a call are there, or are there turned around."""
    there = [word in words or bool(turned_forms(word) & set(words)) for word in call]
    return sum(there) * 2 >= len(there)


def _turned_in_transcript(transcript: Sequence[str], call: Sequence[str]) -> str | None:
    # Compared in the spelling of transcripts, where "doesn't" is "doesnt".
    call = tuple(word.replace("'", "") for word in call)
    if not _overlap(transcript, call) or _is_asked_so(transcript, call):
        return None
    for word, following in zip(transcript, (*transcript[1:], ""), strict=True):
        denies = word in NEGATIONS - _SOUNDS_LIKE_OTHERS or (word, following) == ("no", "longer")
        if denies and word not in call:
            return f"'{word}' {TURNED_AROUND}"
    for word in transcript:
        for said in call:
            if word not in call and word.endswith(said) and word in turned_forms(said):
                return f"'{word}' {TURNED_AROUND}"
    return None


def opposite_written(best: Understood, recognition: Recognition) -> str | None:
    """Return the reason where the opposite of a word of the call was heard instead of it, in the
    free transcript or by its sound: "connected spark plug wire" of a call that, by the words of the
    calls, was "disconnected".

    Args:
        best: The likeliest meaning.
        recognition: All that the engine made of the utterance.
    """
    transcript = _transcript(recognition)
    if recognition.otherwise is not None:
        said, word = recognition.otherwise
        if said in best.words and (word in opposites(said) or word in turned_forms(said)):
            return f"'{word}' {TURNED_AROUND}"
    together = {one + other for one, other in pairwise(transcript)}
    for said in best.words:
        if said in transcript or said in together:
            continue
        for word in transcript:
            if word not in best.words and word in opposites(said):
                return f"'{word}' was heard as well, the opposite of '{said}'"
    return None


def call_written(
    recognition: Recognition, best: Understood, grammar: CallGrammar, listening: Listening
) -> Understood | None:
    """Return the call that the free transcript is with a word that the engine does not listen for,
    where it means something else than the likeliest; None where it is none.

    Where the engine does listen for all of its words, it has heard the opposite in spite of them:
    neither of the two is to be guessed at.

    Args:
        recognition: All that the engine made of the utterance.
        best: The likeliest meaning; it was called with the call sign, or without, by its sound.
        grammar: What may be said.
        listening: What the decision needs to know besides.
    """
    for typed in typed_words(recognition.transcript or ""):
        if grammar.words.issuperset(typed):
            continue
        for words in respelled(typed, grammar.words):
            call = exactly(words, grammar, listening, best.confidence)
            if call is not None and call.intents != best.intents:
                return replace(call, call_sign=best.call_sign)
    return None


def _transcript(recognition: Recognition) -> tuple[str, ...]:
    return typed_words(recognition.transcript)[0] if recognition.transcript else ()


def _is_asked_so(transcript: Sequence[str], call: Sequence[str]) -> bool:
    """Whether a transcript is the call but for how it begins to ask: "aren't we good to start" asks
    what "are we good to start" asks."""
    if len(call) < 2 or call[1] not in _ASKED_OF:
        return False
    return tuple(transcript) == (f"{call[0]}nt".replace("cannt", "cant"), *call[1:])
