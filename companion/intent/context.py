"""What the current step waits for, as a small weight on what was heard.

A call about the measure or the part that the step names is likelier than any other. It never
weighs one figure against another: what the spec sheet would like to hear must not make it heard.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from companion.intent.intents import Intent
from companion.intent.outcome import Listening
from companion.intent.understood import Understood

AWAITED_ODDS = 2.0
"""How many times likelier a call is that the step waits for. So small that any other call is
still recorded at once if it was heard clearly, and still wins if it was heard better by more than
this."""


def is_awaited(intent: Intent, listening: Listening) -> bool:
    """Whether the current step waits for a call about this measure, fluid or part."""
    names = (getattr(intent, name, None) for name in ("measure", "fluid", "part"))
    return any(name in listening.awaited for name in names if name is not None)


def weighed(calls: Sequence[Understood], listening: Listening) -> list[Understood]:
    """Raise the confidence of what is awaited over the rest; all of them still share the same.

    Returns:
        Best first.
    """
    odds = [
        AWAITED_ODDS if any(is_awaited(intent, listening) for intent in call.intents) else 1.0
        for call in calls
    ]
    before = sum(call.confidence for call in calls)
    after = sum(call.confidence * factor for call, factor in zip(calls, odds, strict=True))
    if len(set(odds)) < 2 or after <= 0:
        return list(calls)
    shared = [
        replace(call, confidence=min(1.0, call.confidence * factor * before / after))
        for call, factor in zip(calls, odds, strict=True)
    ]
    return sorted(shared, key=lambda call: -call.confidence)
