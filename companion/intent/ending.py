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

SOON = 0.5
"""All these are multiples of the usual pause that ends an utterance. Of clear speech the recognizer
is given what was called so far after less than a third of one, and takes about a fifth, so that a
call that is whole is answered as soon as it is recognized."""
WHOLE = 0.75
"""The same in noise, where the recognizer is given it after half of the pause."""
USUAL = 1.0
OPEN = 1.5
"""Recognizing is done within this pause, so that the answer comes no later than after the usual
pause with recognizing after it."""
UNFINISHED = 2.0

CALL_SIGN_ALONE = 1.2
"""Seconds: the length of the call sign by itself, with the sound kept from before it."""


def pause_after(
    decision: Decision,
    recognition: Recognition,
    grammar: CallGrammar,
    listening: Listening,
    seconds: float = inf,
    thresholds: Thresholds = DEFAULT,
    *,
    clear: bool = False,
) -> float:
    """Return how long a pause ends an utterance, in multiples of the usual pause.

    Args:
        decision: What would become of the utterance if it ended here.
        recognition: What it was made from.
        grammar: What may be said.
        listening: What the decision was made with.
        seconds: How long the utterance is, without the pause after it.
        thresholds: Likewise.
        clear: Whether its speech is far above the noise: it is plain then that it has ended.
    """
    if decision.outcome == "ignore" and listening.call_sign_needed:
        # Talk ends after the usual pause: if it lasted longer, a call after it would be taken for
        # part of it. Half a call has as low a confidence as talk, but mostly seems to begin with
        # the call sign; and a sound no longer than the call sign may be just that, unless the
        # engine found no trace of it.
        heard = recognition.hypotheses[:1]
        signed = any(call_sign_length(each.text.split(), grammar) for each in heard)
        return UNFINISHED if signed or (heard and seconds <= CALL_SIGN_ALONE) else USUAL
    if decision.outcome not in ("record", "ask") or isinstance(decision.intents[0], Note):
        return UNFINISHED
    if recognition.call_confidence < thresholds.half_call:
        # An engine that is held to whole calls makes one of half a call too, with a low confidence.
        return UNFINISHED
    words = decision.text.split()
    # Hardly anybody turns a plain call into another form by a word after a pause.
    whole = grammar.ends_usual(words) or completeness(words, grammar) == "whole"
    if not whole or decision.outcome != "record":
        return OPEN
    return SOON if clear else WHOLE
