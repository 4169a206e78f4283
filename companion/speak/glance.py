"""What is so now, in words for a glance: shorter than what is said, and never read out."""

from __future__ import annotations

import math
from datetime import datetime

from companion.job import steps
from companion.job.state import State
from companion.job.state_values import Timer
from companion.speak.questions import question_phrase

MORE_TAGS = "read tags"
"""What to say to have every tag named."""
MORE_TIMERS = "time left"
"""What to say to have every timer named."""
MORE_OF_STEP = "say step"
"""What to say to have the step said."""


def clock_face(seconds: int) -> str:
    """Hours, minutes and seconds as on a clock: "1:59:58", "0:07"."""
    hours, rest = divmod(seconds, 3600)
    minutes, seconds = divmod(rest, 60)
    return f"{hours}:{minutes:02}:{seconds:02}" if hours else f"{minutes}:{seconds:02}"


def timer_words(timer: Timer, at: datetime) -> str:
    """A timer and what is left of it; once due, that it rings, and for how long.

    Args:
        timer: One that runs or rings.
        at: Now. Seconds begun count whole, so that nothing is left only when it is due.
    """
    left = (timer.due - at).total_seconds()
    if left > 0:
        return f"{timer.name} {clock_face(math.ceil(left))}"
    return f"{timer.name} RINGS +{clock_face(math.floor(-left))}"


def question_words(state: State) -> str | None:
    """The open question, or what the current step asks; None where an answer is not awaited."""
    if state.question is not None:
        return question_phrase(state, state.question.event).text
    step = steps.awaits_answer(state)
    return None if step is None else step.asks


def step_words(state: State) -> str | None:
    """Which step it is, of how many: "3 of 12, set gap"; None without one."""
    step = steps.current(state)
    if step is None:
        return None
    there = f"{steps.place(state, step)} of {len(steps.all_steps(state))}"
    return f"{there}, {steps.in_words(step.name)}"


def still_words(state: State) -> tuple[str, ...]:
    """What the current step still needs: points to work on, then readings to call."""
    step = steps.current(state)
    if step is None or steps.is_finished(state, step) or steps.awaits_answer(state) is not None:
        return ()
    return steps.left_of(state, step)


def then_words(state: State) -> str:
    """The call that goes on from a step that needs nothing more to be called; empty where it is
    asked about, or there is none."""
    step = steps.current(state)
    if step is None or steps.awaits_answer(state) is not None:
        return ""
    if steps.is_finished(state, step):
        stage = steps.stage(state, step)
        now = "does not apply" if stage == "not applying" else stage
        return f"{now}, say 'next step'"
    return "once done, say 'step done'"


def more_words(count: int, call: str) -> tuple[str, str]:
    """That there is more than is shown, and what to say to hear it: in full, and as short as it
    goes."""
    return f"and {count} more: say '{call}'", f"+{count}: {call}"
