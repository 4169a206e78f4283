"""Several named timers: when each rings, and what is left."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

from companion.job.events import TimerRang
from companion.job.heat import COOL_DOWN, hot_until
from companion.job.state import State
from companion.job.state_values import Timer

USUAL = {
    "soak": timedelta(hours=2),
    "warm up": timedelta(minutes=15),
    "settle": timedelta(minutes=5),
    "drain": timedelta(minutes=10),
    COOL_DOWN: timedelta(minutes=45),
    "cure": timedelta(hours=24),
    "charge": timedelta(hours=10),
}
"""How long where no length is called, by name. All common practice: penetrant works for hours; ten
minutes to a quarter of an hour warm an engine; oil takes minutes to run down; sealants are given a
day; a battery charged at a tenth of its capacity takes some ten hours. What the can, the tube or
the maker's manual says comes first.
"""

AGAIN = tuple(timedelta(minutes=minutes) for minutes in (1, 2, 4, 8, 16))
"""How long after each ring the next one comes, while nobody says "roger"."""

AND_THEN = timedelta(minutes=30)
"""How often it rings after that."""


def usual_length(state: State, name: str, at: datetime) -> timedelta | None:
    """Return how long a timer runs where no length is called; None where none is usual.

    The card's own wait of that name comes first. A cool-down lasts until the engine is taken to be
    cold, where it is known to have run.

    Args:
        state: The job.
        name: Of the timer.
        at: The time now.
    """
    for step in () if state.card is None else state.card.step:
        if step.wait is not None and step.wait.timer == name:
            return timedelta(minutes=step.wait.minutes)
    until = hot_until(state)
    if name == COOL_DOWN and until is not None and until > at and name not in state.timers:
        return timedelta(minutes=math.ceil((until - at) / timedelta(minutes=1)))
    return USUAL.get(name)


def next_ring(timer: Timer) -> datetime:
    """Return when a timer will ring next: at its deadline, then at growing intervals."""
    if timer.rang is None:
        return timer.due
    after = AGAIN[timer.rings - 1] if timer.rings <= len(AGAIN) else AND_THEN
    return timer.rang + after


def rings_due(state: State, at: datetime) -> tuple[TimerRang, ...]:
    """Return the rings that are due, the earliest first; each timer once, however late it is."""
    due = sorted((next_ring(timer), timer.seq) for timer in state.timers.values())
    by_seq = {timer.seq: timer for timer in state.timers.values()}
    return tuple(
        TimerRang(name=by_seq[seq].name, count=by_seq[seq].rings + 1)
        for when, seq in due
        if when <= at
    )


def next_deadline(state: State) -> datetime | None:
    """Return when the next ring is due, or None."""
    return min((next_ring(timer) for timer in state.timers.values()), default=None)


def ringing(state: State) -> tuple[Timer, ...]:
    """Return the timers that have rung and were not acknowledged, the earliest deadline first."""
    return tuple(timer for timer in by_deadline(state) if timer.rings)


def by_deadline(state: State) -> tuple[Timer, ...]:
    """Return every timer, the soonest first."""
    return tuple(sorted(state.timers.values(), key=lambda timer: (timer.due, timer.seq)))


def seconds_left(timer: Timer, at: datetime) -> int:
    """Return the whole seconds left, rounded down; negative when overdue."""
    return math.floor((timer.due - at).total_seconds())


def timer_meant(state: State, name: str) -> Timer | None:
    """Return the timer called by this name.

    Args:
        state: The job.
        name: "timer" stands for the only one where none has that name.
    """
    timer = state.timers.get(name)
    if timer is None and name == "timer" and len(state.timers) == 1:
        (timer,) = state.timers.values()
    return timer
