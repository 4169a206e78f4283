"""What the machine read before: in this job, and in the sessions before it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from companion.handbook.units import to_si
from companion.job import events as ev
from companion.job.days_apart import days_between
from companion.job.state import State


@dataclass(frozen=True, slots=True)
class Past:
    """A value read at another time.

    Attributes:
        value: In ``unit``.
        unit: As it was called.
        at: When.
        days: How many days ago that was.
    """

    value: Decimal
    unit: str
    at: datetime
    days: int


def earlier_of(state: State, measure: str) -> ev.EarlierReading | None:
    """Return what the machine last read of a measure before this session, or None."""
    return next((each for each in state.earlier if each.measure == measure), None)


def earlier_past(state: State, measure: str, at: datetime) -> Past | None:
    """Return the same, seen from a time."""
    last = earlier_of(state, measure)
    if last is None:
        return None
    return Past(last.value, last.unit, last.at, days_between(last.at, at))


def last_past(
    state: State, measure: str, at: datetime, *, besides: int | None = None
) -> Past | None:
    """Return the last value of a measure, of this session or else of the ones before it.

    Args:
        state: The job.
        measure: What was measured.
        at: From which time it is seen.
        besides: Number of a reading that is left out.
    """
    called = reversed(state.readings.about(measure))
    fact = next((each for each in called if each.seq != besides), None)
    if fact is not None:
        return Past(fact.event.value, fact.event.unit, fact.at, days_between(fact.at, at))
    return earlier_past(state, measure, at)


def usual_values(state: State) -> dict[str, tuple[float, str]]:
    """Return what each measure read last, in SI with its unit, in this session or before it."""
    last = {each.measure: (each.value, each.unit) for each in state.earlier}
    for measure in state.readings.names:
        event = state.readings.about(measure)[-1].event
        last[measure] = (event.value, event.unit)
    found = {}
    for measure, (value, unit) in last.items():
        si, si_unit = to_si(value, unit)
        found[measure] = (float(si), si_unit)
    return found
