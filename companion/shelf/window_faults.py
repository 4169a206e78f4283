"""Windows of readings: a unit that fits the measure, and the low end below the high one."""

from __future__ import annotations

from decimal import Decimal

from companion.handbook.unit_table import MEASURE_DIMENSIONS, UNITS
from companion.handbook.units import dimension
from companion.nearest import nearest_words


def unit_fault(measure: str, unit: str, wanted: str | None) -> str | None:
    """Return what is wrong with the unit of a measure, or None.

    Args:
        measure: What is measured.
        unit: As it was written.
        wanted: What the measure measures, where that is known.
    """
    kind = dimension(unit) if unit in UNITS else None
    if kind is None or kind not in MEASURE_DIMENSIONS:
        return no_unit(unit, None, near=wanted)
    if wanted is not None and kind != wanted:
        return f"'{measure}' takes a unit of {wanted}, not {unit}"
    return None


def upside_down(low: Decimal | None, high: Decimal | None) -> str | None:
    """Return what is wrong with the ends of a window, or None."""
    if low is not None and high is not None and low > high:
        return f"the window is upside down: low is {low} and high is {high}"
    return None


def no_unit(unit: str, kind: str | None, near: str | None = None) -> str:
    """Return what is wrong with a unit that is not of a kind; names the nearest that are.

    Args:
        unit: As it was written.
        kind: What it should measure; None where it may be anything that is read.
        near: Of what kind the units are that are named, where ``kind`` is not known.
    """
    kinds = MEASURE_DIMENSIONS if kind is None and near is None else (kind or near,)
    fitting = [name for name in UNITS if dimension(name) in kinds]
    what = "no unit that a measure can have" if kind is None else f"no unit of {kind}"
    meant = nearest_words(unit, fitting)
    listed = f"'{unit}' is {what}; the units are {', '.join(fitting)}"
    return f"{listed}; {meant}" if meant else listed
