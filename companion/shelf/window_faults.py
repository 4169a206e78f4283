"""Windows of readings: a unit that fits the measure, and the low end below the high one."""

from __future__ import annotations

from decimal import Decimal

from companion.handbook.unit_table import MEASURE_DIMENSIONS, UNITS
from companion.handbook.units import dimension


def unit_fault(measure: str, unit: str, wanted: str | None) -> str | None:
    """Return what is wrong with the unit of a measure, or None.

    Args:
        measure: What is measured.
        unit: As it was written.
        wanted: What the measure measures, where that is known.
    """
    kind = dimension(unit) if unit in UNITS else None
    if kind is None or kind not in MEASURE_DIMENSIONS:
        return f"'{unit}' is no unit that a measure can have; the units are " + ", ".join(
            name for name in UNITS if dimension(name) in MEASURE_DIMENSIONS
        )
    if wanted is not None and kind != wanted:
        return f"'{measure}' takes a unit of {wanted}, not {unit}"
    return None


def upside_down(low: Decimal | None, high: Decimal | None) -> str | None:
    """Return what is wrong with the ends of a window, or None."""
    if low is not None and high is not None and low > high:
        return f"the window is upside down: low is {low} and high is {high}"
    return None
