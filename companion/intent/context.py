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
"""How many times likelier a call is that the step waits for. So small that any other call is
still recorded at once if it was heard clearly, and still wins if it was heard better by more than
this."""

USUAL_ODDS = 5.0
"""How many times likelier a call in its plain form is than one in a form that the person has never
used. Each of some dozen forms of a call is rarer than that beside the form that is always read
back. On voices that nothing was fitted on, at 10 dB, it asks as seldom as a grammar without the
other forms does."""

OFTEN = 10
"""So often used, another form weighs as much as the plain one."""


def is_awaited(intent: Intent, listening: Listening) -> bool:
    """Whether the current step waits for a call about this measure, fluid or part."""
    names = (getattr(intent, name, None) for name in ("measure", "fluid", "part"))
    return any(name in listening.awaited for name in names if name is not None)


def weighed(
    calls: Sequence[Understood], listening: Listening, grammar: CallGrammar
) -> list[Understood]:
    """Raise the confidence of what is likely over the rest; all of them still share the same.

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
    """Of calls that differ in nothing but their figures each weighs as much as the heaviest."""
    return [
        max(
            other_odds
            for other, other_odds in zip(calls, odds, strict=True)
            if other is call or same_but_for_figures(call.intents[0], other.intents[0])
        )
        for call in calls
    ]
