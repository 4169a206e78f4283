"""What can be said now: in answer to "help"."""

from __future__ import annotations

from companion.job import steps
from companion.job.answers import CanSay
from companion.job.state import State

NAMED = 3
"""How many points and readings of a step are named; "say step" says the step."""


def what_can_be_said(state: State) -> CanSay:
    """Return what fits now: answers to the open question, else what the current step waits for,
    else nothing in particular."""
    if state.closed or state.parked or state.standby:
        return CanSay("parked")
    if state.question is not None:
        return CanSay("question")
    step = steps.current(state)
    if step is None or steps.is_finished(state, step):
        return CanSay("anything")
    left = steps.left_of(state, step)
    return CanSay("step", left[:NAMED], more=len(left) > NAMED)
