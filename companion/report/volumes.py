"""What went out of a machine and into it, fluid by fluid, in the unit called last."""

from __future__ import annotations

from decimal import Decimal

from companion.handbook.convert import plain, rounded
from companion.handbook.units import UnknownUnit, from_si, written
from companion.job import fluids
from companion.job.sheet import SpecFluid
from companion.job.state import State
from companion.report.figures import Figure, figure


def moved(state: State, name: str) -> list[tuple[str, Figure]]:
    """Return how much of a fluid was drained and added, in all; nothing of what was not called.

    Where a unit in the log is unknown to this version the sums are left out: the report has the
    calls one by one.
    """
    try:
        now = fluids.balance(state, name)
        unit = unit_called(state, name)
        return [
            (action, volume_figure(state, volume, unit))
            for action, volume in (("drained", now.drained), ("added", now.added))
            if volume > 0
        ]
    except UnknownUnit:
        return []


def unit_called(state: State, name: str) -> str:
    """Return the unit in which a fluid was called last; else that of the sheet, else the ounce."""
    for fact in reversed(state.effective(state.fluids)):
        if fact.event.fluid == name:
            return fact.event.unit
    spec = fluids.spec_of(state, name)
    return (spec.unit if spec else None) or "ounce"


def volume_figure(state: State, cubic_meters: Decimal, unit: str) -> Figure:
    """Return a volume in both systems, rounded to what is worth writing."""
    value = from_si(cubic_meters, unit, ounce=state.ounce)
    return figure(rounded(value, unit), unit, state.ounce)


def grade_text(spec: SpecFluid | None) -> str:
    """Return what to fill: one grade, or one by the air temperatures that it is for."""
    if spec is None:
        return ""
    if not spec.grades:
        return spec.grade or ""
    ranges = []
    for grade in spec.grades:
        symbol = written(grade.unit)
        ends = [
            f"from {plain(grade.low)}" if grade.low is not None else "",
            f"to {plain(grade.high)}" if grade.high is not None else "",
        ]
        said = " ".join(filter(None, (grade.grade, *ends)))
        ranges.append(f"{said} {symbol}" if any(ends) else said)
    return ", ".join(ranges)
