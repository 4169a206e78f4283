"""Figures as the page shows them: as called, and in the other system of units."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal

from companion.handbook.convert import plain, rounded
from companion.handbook.unit_table import OunceSystem
from companion.handbook.units import UnknownUnit, convert, unit_named, whose, written
from companion.job.events import ReadingRecorded, Window

WINDOW_DIGITS = 4
"""Significant digits of a window that is converted; one in the unit called is left as it is."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A quantity ready to print.

    Attributes:
        called: As it was called, with its symbol.
        also: In the other system, rounded; empty where both systems use one unit.
    """

    called: str
    also: str


def figure(value: Decimal, unit: str, ounce: OunceSystem) -> Figure:
    """Return a quantity in both systems; a unit this version does not know is shown as it is."""
    try:
        called = f"{plain(value)} {_symbol(unit, ounce)}"
        other = unit_named(unit).shown_beside(value)
        if other is None:
            return Figure(called, "")
        short = rounded(convert(value, unit, other, ounce=ounce), other)
        return Figure(called, f"{plain(short)} {_symbol(other, ounce)}")
    except UnknownUnit:
        return Figure(f"{plain(value)} {unit}", "")


def window_text(window: Window | None, ounce: OunceSystem, unit: str | None = None) -> str:
    """Return what the sheet wants: "28 to 31 thou", "at least 90 psi", or nothing.

    Args:
        window: As the sheet has it.
        ounce: Which fluid ounce is meant.
        unit: To say it in, rounded to ``WINDOW_DIGITS`` significant digits, half to even; the
            sheet's own if None, or if the two cannot be converted.
    """
    if window is None:
        return ""
    shown = window if unit is None else _in_unit(window, unit, ounce)
    low = None if shown.low is None else figure(shown.low, shown.unit, ounce).called
    high = None if shown.high is None else figure(shown.high, shown.unit, ounce).called
    if shown.low is not None and high is not None:
        return f"{plain(shown.low)} to {high}"
    if low is not None:
        return f"at least {low}"
    return f"at most {high}" if high is not None else ""


def is_converted(window: Window | None, unit: str, ounce: OunceSystem) -> bool:
    """Whether a window is shown in another unit than the sheet's."""
    return window is not None and _in_unit(window, unit, ounce) is not window


def _in_unit(window: Window, unit: str, ounce: OunceSystem) -> Window:
    if unit == window.unit:
        return window

    def end(value: Decimal | None) -> Decimal | None:
        if value is None:
            return None
        exact = convert(value, window.unit, unit, ounce=ounce)
        if exact == 0:
            return Decimal(0)
        last = Decimal(1).scaleb(exact.adjusted() - WINDOW_DIGITS + 1)
        return (exact / last).to_integral_value(ROUND_HALF_EVEN) * last

    try:
        return window.model_copy(
            update={"low": end(window.low), "high": end(window.high), "unit": unit}
        )
    except ValueError:
        return window


def verdict_text(event: ReadingRecorded, ounce: OunceSystem) -> str:
    """Return the verdict in words: "in", "high by 3 thou", "no figure"."""
    if event.verdict == "unknown":
        return "no figure"
    if event.beyond is None:
        return event.verdict
    return f"{event.verdict} by {figure(event.beyond, event.unit, ounce).called}"


@dataclass(frozen=True, slots=True)
class Gauge:
    """Where a reading stands to its window, as shares of the width of a small drawing, 0 to 100.

    Attributes:
        start: Where the window begins.
        width: How wide it is.
        mark: Where the reading is.
    """

    start: float
    width: float
    mark: float


def gauge(event: ReadingRecorded, ounce: OunceSystem) -> Gauge | None:
    """Return the drawing of a reading, or None where there is no window to draw."""
    window = event.window
    if window is None or (window.low is None and window.high is None):
        return None
    try:
        value = float(convert(event.value, event.unit, window.unit, ounce=ounce))
    except ValueError:
        return None
    low = None if window.low is None else float(window.low)
    high = None if window.high is None else float(window.high)
    if low is not None and high is not None:
        margin = (high - low) or abs(high) or 1.0
        left, right = low - margin, high + margin
    else:
        edge = high if low is None else low
        margin = abs(edge or 0.0) or 1.0
        left, right = (edge or 0.0) - margin, (edge or 0.0) + margin

    def place(at: float) -> float:
        return round(min(max((at - left) / (right - left), 0.02), 0.98) * 100, 1)

    start = 0.0 if low is None else place(low)
    end = 100.0 if high is None else place(high)
    return Gauge(start, round(max(end - start, 1.0), 1), place(value))


def _symbol(unit: str, ounce: OunceSystem) -> str:
    """Return the symbol; of the ounce family, always with whose it is."""
    return written(whose(unit, ounce))
