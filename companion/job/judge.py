"""What the spec sheet wants, and a reading judged against it in whatever unit it was called."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from companion.handbook.convert import rounded
from companion.handbook.unit_table import OunceSystem
from companion.handbook.units import convert, to_si
from companion.intent.outcome import Expectation
from companion.job.cylinders import without_cylinder
from companion.job.events import Verdict, Window
from companion.job.sheet import SpecReading, SpecSheet
from companion.job.sheet_measures import measure_named, measures

SAME = Decimal("1e-12")
"""Relative difference below which a converted value is the end of the window itself: conversions
that never end are cut after 28 digits."""


@dataclass(frozen=True, slots=True)
class Judgement:
    """A verdict and what it rests on.

    Attributes:
        verdict: ``unknown`` where the sheet gives no figure.
        window: What the sheet wants, in its own unit; None where it gives no figure.
        beyond: How far outside, in the unit called, positive; None when in or unknown.
    """

    verdict: Verdict
    window: Window | None = None
    beyond: Decimal | None = None


def spec_of(sheet: SpecSheet | None, measure: str) -> SpecReading | None:
    """Return what the sheet says of a measure, or else of the same measure without its cylinder;
    else None."""
    return measure_named(sheet, measure) or measure_named(sheet, without_cylinder(measure))


def window_of(spec: SpecReading | None) -> Window | None:
    """Return the window; None where nobody knows the figure."""
    if spec is None or (spec.low is None and spec.high is None):
        return None
    return Window(low=spec.low, high=spec.high, unit=spec.unit, source=spec.source)


def judge(value: Decimal, unit: str, window: Window | None, *, ounce: OunceSystem) -> Judgement:
    """Judge a reading.

    Args:
        value: In ``unit``.
        unit: As called.
        window: What the sheet wants, in its own unit.
        ounce: Which ounce, pint, quart and gallon are meant.

    Returns:
        The verdict. Both ends of the window are in it. ``beyond`` is exact where the sheet has the
        unit that was called, otherwise rounded to what is worth saying in that unit.

    Raises:
        UnitsDoNotFit: If the reading was called in a unit of another dimension than the sheet's.
    """
    if window is None:
        return Judgement("unknown")
    low = None if window.low is None else convert(window.low, window.unit, unit, ounce=ounce)
    high = None if window.high is None else convert(window.high, window.unit, unit, ounce=ounce)
    if low is not None and value < low and not _same(value, low):
        return Judgement("low", window, _worth_saying(low - value, unit, window))
    if high is not None and value > high and not _same(value, high):
        return Judgement("high", window, _worth_saying(value - high, unit, window))
    return Judgement("in", window)


def _same(value: Decimal, end: Decimal) -> bool:
    return abs(value - end) <= SAME * max(abs(value), abs(end))


def _worth_saying(beyond: Decimal, unit: str, window: Window) -> Decimal:
    return beyond if unit == window.unit else rounded(beyond, unit)


def expectations(sheet: SpecSheet | None, *, ounce: OunceSystem = "us") -> dict[str, Expectation]:
    """Return what the sheet expects of each measure and fluid, in SI.

    Args:
        sheet: The machine's figures, or None.
        ounce: Which ounce, pint, quart and gallon the sheet means.

    Returns:
        By name; what the sheet gives no figure for is missing. Of a fluid no more than the capacity
        is expected at once, added or, as "oil drained", drained.
    """
    expected: dict[str, Expectation] = {}
    if sheet is None:
        return expected
    for reading in measures(sheet):
        low = None if reading.low is None else to_si(reading.low, reading.unit, ounce=ounce)
        high = None if reading.high is None else to_si(reading.high, reading.unit, ounce=ounce)
        known = low or high
        if known is not None:
            expected[reading.measure] = Expectation(
                low=None if low is None else float(low[0]),
                high=None if high is None else float(high[0]),
                unit=known[1],
            )
    for fluid in sheet.fluid:
        if fluid.capacity is not None and fluid.unit is not None:
            volume, unit = to_si(fluid.capacity, fluid.unit, ounce=ounce)
            most = Expectation(low=None, high=float(volume), unit=unit)
            expected[fluid.name] = expected[f"{fluid.name} drained"] = most
    return expected
