"""How long to wait for more after a pause: what was called so far may be whole, or the beginning of
a longer call that somebody thinks about."""

from __future__ import annotations

from math import inf

from companion.grammar.compiled import CallGrammar
from companion.grammar.going_on import completeness
from companion.intent.intents import Note
from companion.intent.meaning import call_sign_length
from companion.intent.outcome import Decision, Listening
from companion.intent.thresholds import DEFAULT, Thresholds
from companion.recognize.protocol import Recognition

WHOLE = 0.75
"""All these are multiples of the usual pause that ends an utterance. The recognizer takes about
half of one, so that a call that is whole is answered as soon as it is recognized."""
USUAL = 1.0
OPEN = 1.5
"""With the recognizing done in it, no later than after the usual pause and then recognizing."""
UNFINISHED = 2.0

CALL_SIGN_ALONE = 1.2
"""Seconds: as long as the call sign said by itself, with what is kept from before it."""


def pause_after(
    decision: Decision,
    recognition: Recognition,
    grammar: CallGrammar,
    listening: Listening,
    seconds: float = inf,
    thresholds: Thresholds = DEFAULT,
) -> float:
    """Return how long a pause ends an utterance, in multiples of the usual pause.

    Args:
        decision: What would become of the utterance if it ended here.
        recognition: What it was made from.
        grammar: What may be said.
        listening: What the decision was made with.
        seconds: How long the utterance is, without the pause after it.
        thresholds: Likewise.
    """
    if decision.outcome == "ignore" and listening.call_sign_needed:
        # Talk; were it waited for, the call after it would be taken for a part of it. But half a
        # call, which is believed in no more, mostly seems to begin with the call sign; and what is
        # no longer than that may be the call sign alone, unless the engine found no trace of it.
        heard = recognition.hypotheses[:1]
        signed = any(call_sign_length(each.text.split(), grammar) for each in heard)
        return UNFINISHED if signed or (heard and seconds <= CALL_SIGN_ALONE) else USUAL
    if decision.outcome not in ("record", "ask") or isinstance(decision.intents[0], Note):
        return UNFINISHED
    if recognition.call_confidence < thresholds.clear_call:
        # Held to whole calls, an engine makes one of half a call too, and does not believe in it.
        return UNFINISHED
    words = decision.text.split()
    # Of a plain call hardly anybody makes another form by a word that comes after a pause.
    whole = grammar.ends_usual(words) or completeness(words, grammar) == "whole"
    return WHOLE if whole and decision.outcome == "record" else OPEN
