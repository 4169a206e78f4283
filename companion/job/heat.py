"""How long an engine that ran, its oil and its exhaust are taken to be hot.

The figures are our own, on the careful side of common practice: a small engine is let cool half an
hour to an hour before it is touched, longer after a long run. They are not measured.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from companion.job.events import ReadingRecorded
from companion.job.state import State
from companion.job.state_values import Fact

HOT_AT_LEAST = timedelta(minutes=30)
"""How long it is taken to be hot after the shortest run."""

HOT_AT_MOST = timedelta(minutes=90)
"""The same after a run of an hour or more, or one whose length nobody knows."""

COOL_DOWN = "cool down"
"""The timer that says that something is still cooling while it runs."""

READ_RUNNING = frozenset({"engine speed", "idle speed", "output voltage", "output frequency"})
"""Measures that are above zero only while the engine runs."""


def hot_until(state: State) -> datetime | None:
    """Return when the engine will be taken to be cold, if it is left alone from now on.

    Each minute of a longer run adds a minute. A cool-down timer that runs on longer keeps it hot
    until its deadline; a shorter one makes it no colder. A speed that was read counts as a run of
    unknown length, where nobody called one.

    Returns:
        None while it runs, and where it is not known to have run and no cool-down timer runs.
    """
    if state.engine_running:
        return None
    ends = []
    if state.engine_ran is not None:
        ran_for = state.engine_ran_for
        ends.append(
            state.engine_ran
            + (HOT_AT_MOST if ran_for is None else min(HOT_AT_LEAST + ran_for, HOT_AT_MOST))
        )
    read = _read_running(state)
    if read is not None and (state.engine_ran is None or read > state.engine_ran):
        ends.append(read + HOT_AT_MOST)
    cooling = state.timers.get(COOL_DOWN)
    if cooling is not None:
        ends.append(cooling.due)
    return max(ends, default=None)


def _read_running(state: State) -> datetime | None:
    """When something was last read that only a running engine shows."""
    nothing: Fact[ReadingRecorded] | None = None
    each = (
        state.readings.about(measure).fold("last above zero", nothing, _above_zero)
        for measure in READ_RUNNING
    )
    last = max(
        (fact for fact in each if fact is not None),
        key=lambda fact: (fact.place, fact.seq),
        default=None,
    )
    return None if last is None else last.at


def _above_zero(
    last: Fact[ReadingRecorded] | None, fact: Fact[ReadingRecorded]
) -> Fact[ReadingRecorded] | None:
    return fact if fact.event.value > 0 else last


def is_hot(state: State, at: datetime) -> bool:
    """Return whether the engine runs or ran so lately that it is taken to be hot.

    A clock that was set back makes the engine look as if it ran in the future: that counts as hot.
    """
    if state.engine_running:
        return True
    until = hot_until(state)
    return until is not None and at <= until
