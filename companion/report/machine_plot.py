"""What a machine read over the years, drawn: a small plot a measure, against its window.

It is told by shape and by hatching, never by color, so that it reads the same printed in black: a
full dot is in the window, a triangle points the way that a reading is out, a diamond has no figure
to be judged by.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from companion.handbook.convert import plain
from companion.handbook.unit_table import OunceSystem
from companion.handbook.units import UnitsDoNotFit, UnknownUnit, convert
from companion.job.events import ReadingRecorded, Window
from companion.log.index_history import Noted

WIDTH, HEIGHT = 360, 190
"""Of a plot, in units that are pixels on a phone."""

LEFT, RIGHT, TOP, BOTTOM = 46, 346, 12, 158
"""Where the axes are."""

ROOM = 0.12
"""Share of the height that is left free above the highest and below the lowest."""

TICKS = 4
"""Lines across, at most."""


@dataclass(frozen=True, slots=True)
class Mark:
    """One reading on a plot.

    Attributes:
        x: From the left.
        y: From the top.
        verdict: Which shape it has.
        title: Day, value and verdict, in words.
    """

    x: float
    y: float
    verdict: str
    title: str


@dataclass(frozen=True, slots=True)
class Band:
    """A window as it was for some time; ``top`` and ``bottom`` None where that end is open.

    Attributes:
        x: From the left.
        width: How far.
        y: Of its upper edge.
        height: How far down.
        top: Where the line of its upper end is, or None.
        bottom: Where that of its lower end is, or None.
    """

    x: float
    width: float
    y: float
    height: float
    top: float | None
    bottom: float | None


@dataclass(frozen=True, slots=True)
class Plot:
    """Everything to draw.

    Attributes:
        unit: Of all of it.
        marks: Readings, in order of time.
        line: Their places, as SVG wants them.
        bands: Windows, in order of time.
        ticks: Lines across, each with its height and value.
        days: Words below, each with its place and how it is anchored.
    """

    unit: str
    marks: tuple[Mark, ...]
    line: str
    bands: tuple[Band, ...]
    ticks: tuple[tuple[float, str], ...]
    days: tuple[tuple[float, str, str], ...]


def plot(
    points: Sequence[Noted[ReadingRecorded]], titles: Sequence[str], ounce: OunceSystem
) -> Plot | None:
    """Draw the readings of one measure.

    Args:
        points: In order of time.
        titles: What each says when it is pointed at.
        ounce: Which fluid ounce is meant.

    Returns:
        The plot, in the unit of the latest window or else the latest reading; None where fewer than
        two readings can be told in it.
    """
    latest = points[-1].event
    unit = latest.unit if latest.window is None else latest.window.unit
    kept = [
        (point, value, title)
        for point, title in zip(points, titles, strict=True)
        if (value := _in(point.event.value, point.event.unit, unit, ounce)) is not None
    ]
    if len(kept) < 2:
        return None
    windows = [_window(point.event.window, unit, ounce) for point, _, _ in kept]
    ends = [end for window in windows for end in window if end is not None]
    low, high = _range([*(value for _, value, _ in kept), *ends])

    def height(value: float) -> float:
        return round(BOTTOM - (value - low) / (high - low) * (BOTTOM - TOP), 1)

    xs = _places([point.at for point, _, _ in kept])
    marks = tuple(
        Mark(x, height(value), point.event.verdict, title)
        for x, (point, value, title) in zip(xs, kept, strict=True)
    )
    return Plot(
        unit=unit,
        marks=marks,
        line=" ".join(f"{mark.x:g},{mark.y:g}" for mark in marks),
        bands=tuple(_bands(xs, windows, height)),
        ticks=tuple((height(value), _short(value)) for value in _ticks(low, high)),
        days=_days([point.at for point, _, _ in kept]),
    )


def _in(value: Decimal, unit: str, to: str, ounce: OunceSystem) -> float | None:
    try:
        return float(convert(value, unit, to, ounce=ounce))
    except (UnitsDoNotFit, UnknownUnit):
        return None


def _window(
    window: Window | None, unit: str, ounce: OunceSystem
) -> tuple[float | None, float | None]:
    if window is None:
        return None, None
    return (
        None if window.low is None else _in(window.low, window.unit, unit, ounce),
        None if window.high is None else _in(window.high, window.unit, unit, ounce),
    )


def _range(values: Sequence[float]) -> tuple[float, float]:
    low, high = min(values), max(values)
    room = (high - low) * ROOM or abs(high) * ROOM or 1.0
    # Values that are never negative need no room below zero.
    return (max(0.0, low - room) if low >= 0 else low - room), high + room


def _places(times: Sequence[datetime]) -> list[float]:
    """The place of each reading by its time, although a clock may have been set back."""
    first, last = min(times), max(times)
    span = (last - first).total_seconds()
    return [
        round(LEFT + 6 + (RIGHT - LEFT - 12) * ((at - first).total_seconds() / span), 1)
        if span
        else round(LEFT + 6 + (RIGHT - LEFT - 12) * number / (len(times) - 1), 1)
        for number, at in enumerate(times)
    ]


def _bands(
    xs: Sequence[float],
    windows: Sequence[tuple[float | None, float | None]],
    height: Callable[[float], float],
) -> list[Band]:
    """What was wanted, one band for as long as it stayed the same."""
    bands = []
    start = 0
    for place in range(1, len(windows) + 1):
        if place < len(windows) and windows[place] == windows[start]:
            continue
        low, high = windows[start]
        left = LEFT if start == 0 else (xs[start - 1] + xs[start]) / 2
        right = RIGHT if place == len(windows) else (xs[place - 1] + xs[place]) / 2
        if low is not None or high is not None:
            top = None if high is None else height(high)
            bottom = None if low is None else height(low)
            upper = TOP if top is None else top
            lower = BOTTOM if bottom is None else bottom
            bands.append(
                Band(round(left, 1), round(right - left, 1), upper, max(lower - upper, 1.0), top,
                     bottom)
            )  # fmt: skip
        start = place
    return bands


def _ticks(low: float, high: float) -> list[float]:
    """Round values within, a step of 1, 2 or 5 apart."""
    rough = (high - low) / TICKS
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * size for size in (1, 2, 5, 10) if power * size >= rough)
    first = math.ceil(low / step)
    return [number * step for number in range(first, math.floor(high / step) + 1)]


def _short(value: float) -> str:
    return plain(Decimal(f"{value:.6g}"))


def _days(times: Sequence[datetime]) -> tuple[tuple[float, str, str], ...]:
    first, last = min(times).date(), max(times).date()
    if first == last:
        return (((LEFT + RIGHT) / 2, _day(first), "middle"),)
    return (LEFT, _day(first), "start"), (RIGHT, _day(last), "end")


def _day(day: date) -> str:
    return f"{day.day} {day:%b} {day.year}"
