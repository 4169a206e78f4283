"""Which steps of a card run the engine: once such a step is done the engine is hot, whether or not
anyone called it running."""

from __future__ import annotations

import re
from datetime import timedelta

from companion.job.card import CardStep

WARM_UP = "warm up"
"""The timer of a step that warms the engine."""

_RUNS = re.compile(
    r"\b(?:run|warm|start|idle|rev) (?:it|the engine|up)\b"
    r"|\b(?:let|leave|keep) (?:it|the engine) (?:run|running|warm|idle|idling)\b"
    r"|\b(?:run|idle) (?:for )?(?:\w+ ){1,2}minutes?\b"
)
_NEGATED = re.compile(
    r"\b(?:never|not|don't|cannot|can't|before you|before they|until you|without) "
    r"(?:\w+ )?(?:run|warm|start|idle|rev|let)\b[^.,:;]*"
)
"""Words that deny: "do not start it" runs no engine."""


def runs_engine(step: CardStep) -> bool:
    """Return whether the engine has run once a step is done: it must run for it, the step waits for
    it to warm up, or says to start, run or warm it."""
    if step.engine == "running" or (step.wait is not None and step.wait.timer == WARM_UP):
        return True
    return _RUNS.search(_NEGATED.sub("", step.say.lower())) is not None


def runs_for(step: CardStep) -> timedelta | None:
    """Return how long the engine ran in such a step; None where the step has no timer that
    tells."""
    if step.wait is not None and step.wait.timer == WARM_UP:
        return timedelta(minutes=step.wait.minutes)
    return None
