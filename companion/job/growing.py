"""Measures that only grow: a value below the last one, or above what the time between allows, is
impossible, and is asked about before it is recorded.

A measure is one of them by the table here or because the spec sheet says so of it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from types import MappingProxyType

from companion.handbook.units import UnitsDoNotFit, convert, dimension
from companion.job.cylinders import without_cylinder
from companion.job.judge import spec_of
from companion.job.read_before import Past, last_past
from companion.job.service_due import ENGINE_HOURS
from companion.job.state import State

ONLY_GROWS: Mapping[str, str] = MappingProxyType(
    {
        ENGINE_HOURS: "an hour meter counts while the engine runs and is never set back; a new "
        "one begins at zero, which is then affirmed",
    }
)
"""Measures of every machine that only grow, each with why. Others are marked in the spec sheet:
``only_grows = true``."""

HOURS_A_DAY = Decimal(24)


@dataclass(frozen=True, slots=True)
class CannotBe:
    """A value that cannot be.

    Attributes:
        before: What was read last.
        lower: Whether it is below that; otherwise it grew faster than the time since allows.
    """

    before: Past
    lower: bool


def only_grows(state: State, measure: str) -> bool:
    """Whether a measure of this machine only grows."""
    spec = spec_of(state.sheet, measure)
    return without_cylinder(measure) in ONLY_GROWS or (spec is not None and spec.only_grows)


def cannot_be(
    state: State,
    measure: str,
    value: Decimal,
    unit: str,
    at: datetime,
    *,
    corrects: int | None = None,
) -> CannotBe | None:
    """Return why a value of a measure that only grows cannot be, or None where it can.

    Args:
        state: Before it.
        measure: What was measured.
        value: In ``unit``.
        unit: As called.
        at: When it was called.
        corrects: Number of the reading in whose place it stands; that one says nothing.
    """
    if not only_grows(state, measure):
        return None
    before = last_past(state, measure, at, besides=corrects)
    if before is None:
        return None
    try:
        last = convert(before.value, before.unit, unit)
    except UnitsDoNotFit:
        return None
    if value < last:
        return CannotBe(before, lower=True)
    if dimension(unit) != "time":
        return None
    # Days are counted by the calendar: of the first and the last no hour is known.
    most = convert(HOURS_A_DAY * (before.days + 1), "hour", unit)
    return CannotBe(before, lower=False) if value - last > most else None
