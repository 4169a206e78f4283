"""What is likely to be said, as a small weight on what was heard.

A call about the measure or the part that the current step waits for is likelier than any other; a
call in its plain form is likelier than the same in another, and a form that this person has used
often nearly as likely. None of these ever weighs one figure against another: what the spec sheet
would like to hear must not make it heard.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from companion.grammar.compiled import CallGrammar
from companion.intent.frame import frame_of
from companion.intent.intents import Intent
from companion.intent.outcome import Listening
from companion.intent.second import same_but_for_figures
from companion.intent.understood import Understood

AWAITED_ODDS = 2.0
"""How many times likelier a call is that the step waits for. It is so small that any other call
that was heard clearly is still recorded at once, and wins where it was heard better by more than
this factor."""

USUAL_ODDS = 5.0
"""How many times likelier a call in its plain form is than one in a form that the person has never
used: each of some dozen other forms of a call is rarer still, beside the form that is always read
back."""

OFTEN = 10
"""Used this often, another form weighs as much as the plain one."""


def is_awaited(intent: Intent, listening: Listening) -> bool:
    """Whether the current step waits for a call about this measure, fluid or part."""
    names = (getattr(intent, name, None) for name in ("measure", "fluid", "part"))
    return any(name in listening.awaited for name in names if name is not None)


def weighed(
    calls: Sequence[Understood], listening: Listening, grammar: CallGrammar
) -> list[Understood]:
    """Raise the confidence of likely calls over the others; the sum stays the same.

    Args:
        calls: Each of another meaning.
        listening: What the step waits for, and how often the person has used which frame.
        grammar: What may be said.

    Returns:
        Best first.
    """
    odds = _never_between_figures(
        calls, [_awaited(call, listening) * _usual(call, listening, grammar) for call in calls]
    )
    before = sum(call.confidence for call in calls)
    after = sum(call.confidence * factor for call, factor in zip(calls, odds, strict=True))
    if len(set(odds)) < 2 or after <= 0:
        return list(calls)
    shared = [
        replace(call, confidence=min(1.0, call.confidence * factor * (before / after)))
        for call, factor in zip(calls, odds, strict=True)
    ]
    return sorted(shared, key=lambda call: -call.confidence)


def _awaited(call: Understood, listening: Listening) -> float:
    awaited = any(is_awaited(intent, listening) for intent in call.intents)
    return AWAITED_ODDS if awaited else 1.0


def _usual(call: Understood, listening: Listening, grammar: CallGrammar) -> float:
    if grammar.is_usual(call.words):
        return USUAL_ODDS
    used = listening.used.get(frame_of(call.words, grammar), 0)
    return 1.0 + (USUAL_ODDS - 1.0) * min(used, OFTEN) / OFTEN


def _never_between_figures(calls: Sequence[Understood], odds: Sequence[float]) -> list[float]:
    """Give calls that differ in nothing but their figures the weight of the heaviest of them."""
    return [
        max(
            other_odds
            for other, other_odds in zip(calls, odds, strict=True)
            if other is call or same_but_for_figures(call.intents[0], other.intents[0])
        )
        for call in calls
    ]
