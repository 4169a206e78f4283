"""The drill for a tap."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from types import MappingProxyType

from companion.handbook.answer import HandbookAnswer, NotInHandbook
from companion.handbook.convert import plain
from companion.handbook.drill_sizes import Drill, nearest_inch_drill, nearest_metric_drill
from companion.handbook.thread import SizeUnit, Thread, standard_thread

FULL_THREAD = Fraction("1.299038")
"""Diameter less hole, in pitches, at 100 percent of thread: 1.5·H, with H = 0.866025·P.

Source: height of the 60 degree thread of ASME B1.1 and ISO 68-1. Tables write it as 0.01299 for
each percent of an inch thread and as 1/76.98 for each percent of a metric one.
"""

WANTED = Decimal(75)
"""Percent of thread that tap drill charts aim at for inch threads (common practice)."""

FEWEST, MOST = Decimal(50), Decimal(85)
"""Percent of thread: with less it strips, with more the tap breaks (common practice)."""

GOOD_FROM = Decimal(60)
"""Percent of thread that the nearest drill of the other system must leave to be named."""

METRIC_TAP_DRILLS: Mapping[tuple[Fraction, Fraction], Fraction] = MappingProxyType(
    {
        (Fraction(diameter), Fraction(pitch)): Fraction(drill)
        for diameter, pitch, drill in (
            ("3", "0.5", "2.5"), ("4", "0.7", "3.3"), ("5", "0.8", "4.2"), ("6", "1", "5"),
            ("8", "1.25", "6.8"), ("10", "1.5", "8.5"), ("12", "1.75", "10.2"), ("14", "2", "12"),
            ("16", "2", "14"), ("18", "2.5", "15.5"), ("20", "2.5", "17.5"), ("22", "2.5", "19.5"),
            ("24", "3", "21"), ("8", "1", "7"), ("10", "1.25", "8.8"), ("10", "1", "9"),
            ("12", "1.5", "10.5"), ("12", "1.25", "10.8"), ("14", "1.5", "12.5"),
            ("14", "1.25", "12.8"),
            ("16", "1.5", "14.5"), ("18", "1.5", "16.5"), ("18", "2", "16"), ("20", "1.5", "18.5"),
            ("20", "2", "18"), ("22", "1.5", "20.5"), ("22", "2", "20"), ("24", "2", "22"),
        )
    }
)  # fmt: skip
"""ISO 2306: drill by diameter and pitch, all in millimetres, from memory; about 77 percent."""

MACHINE_SCREWS: Mapping[int, tuple[int, int]] = MappingProxyType(
    {4: (40, 48), 5: (40, 44), 6: (32, 40), 8: (32, 36), 10: (24, 32), 12: (24, 28)}
)
"""ASME B1.1, number sizes: coarse and fine threads per inch. Number n is 0.060 + 0.013·n inch."""


@dataclass(frozen=True, slots=True)
class DrillAnswer(HandbookAnswer):
    """A tap drill.

    Attributes:
        thread: "3/8-16", "M8x1.25", "#10-24".
        drill: "5/16 inch", "number 7", "letter F", "6.8 millimeters".
        diameter: Of the drill, in ``unit``.
        unit: ``inch`` or ``millimeter``, as the thread is.
        percent: Of full thread that the drill leaves, unrounded.
        wanted: Hole for the percentage that was asked for, in ``unit``, unrounded; of the usual
            one where none was.
        other_drill: The nearest of the other system, or None where none leaves a good thread.
        other_percent: What that one leaves.
    """

    thread: str
    drill: str
    diameter: Decimal
    unit: SizeUnit
    percent: Decimal
    wanted: Decimal
    other_drill: str | None
    other_percent: Decimal | None


def machine_screw(number: int) -> Fraction:
    """Return the diameter of a number size in inches.

    Raises:
        NotInHandbook: If the handbook does not hold that number.
    """
    if number not in MACHINE_SCREWS:
        numbers = ", ".join(f"#{each}" for each in MACHINE_SCREWS)
        raise NotInHandbook(f"The handbook has no #{number} machine screw; it has {numbers}.")
    return Fraction(60 + 13 * number, 1000)


def drill_for(
    size: Decimal | Fraction,
    unit: SizeUnit,
    pitch: Decimal | Fraction | None = None,
    percent: Decimal | None = None,
) -> DrillAnswer:
    """Look up the drill for a cutting tap.

    An inch thread gets the stock drill nearest to 75 percent of thread, a metric one the drill of
    ISO 2306; where a percentage is asked for, the nearest of the thread's own system.

    Args:
        size: Nominal diameter, in ``unit``.
        unit: ``inch`` or ``millimeter``.
        pitch: Threads per inch, or pitch in millimetres; the coarse thread if None.
        percent: Of full thread.

    Raises:
        NotInHandbook: If the tables have no such thread, or no tap should cut that percentage.
    """
    thread = _thread(Fraction(size), unit, pitch)
    if percent is not None and not (percent.is_finite() and FEWEST <= percent <= MOST):
        raise NotInHandbook(
            f"A tap cuts {plain(FEWEST)} to {plain(MOST)} percent of thread: with less it strips, "
            "with more the tap breaks."
        )
    hole = thread.diameter - FULL_THREAD * thread.pitch * Fraction(percent or WANTED) / 100
    if unit == "inch":
        drill, other = nearest_inch_drill(hole), nearest_metric_drill(hole * _MILLIMETERS)
    else:
        listed = METRIC_TAP_DRILLS.get((thread.diameter, thread.pitch))
        if percent is None and listed is not None:
            hole = listed
        drill = nearest_metric_drill(hole)
        other = nearest_inch_drill(hole / _MILLIMETERS)
    left = _percent_left(thread, drill)
    other_left = _percent_left(thread, other)
    good = GOOD_FROM <= other_left <= MOST
    text = (
        f"{drill.said.replace('millimeters', 'millimeter')} drill for {_name(thread)}, "
        f"{round(left)} percent of thread."
    )
    if good:
        text += f" Or {other.said}."
    return DrillAnswer(
        text=text[0].upper() + text[1:],
        source=(
            "nearest stock drill, height of thread by ASME B1.1"
            if unit == "inch" or percent is not None
            else "ISO 2306, drills before tapping"
        ),
        thread=_designation(thread),
        drill=drill.said,
        diameter=_decimal(drill.diameter),
        unit=unit,
        percent=_decimal(left),
        wanted=_decimal(hole),
        other_drill=other.said if good else None,
        other_percent=_decimal(other_left) if good else None,
        note=(
            "For cutting taps; forming taps need a larger hole by their maker's table. Soft metal "
            "takes more thread, hard or deep holes less. Safety glasses on, work clamped."
        ),
    )


_MILLIMETERS = Fraction("25.4")


def _thread(size: Fraction, unit: SizeUnit, pitch: Decimal | Fraction | None) -> Thread:
    number = (size * 1000 - 60) / 13
    if unit == "millimeter" or number not in MACHINE_SCREWS:
        return standard_thread(size, unit, pitch)
    coarse, fine = MACHINE_SCREWS[int(number)]
    if pitch is None or pitch == coarse:
        return Thread(size, Fraction(1, coarse), unit, "coarse")
    if pitch == fine:
        return Thread(size, Fraction(1, fine), unit, "fine")
    raise NotInHandbook(
        f"The handbook has no such thread on #{number}; it has #{number}-{coarse} and "
        f"#{number}-{fine}."
    )


def _percent_left(thread: Thread, drill: Drill) -> Fraction:
    """Percent of full thread that a drill leaves."""
    diameter = drill.diameter
    if drill.unit != thread.unit:
        diameter = diameter * _MILLIMETERS if drill.unit == "inch" else diameter / _MILLIMETERS
    return 100 * (thread.diameter - diameter) / (FULL_THREAD * thread.pitch)


def _number(thread: Thread) -> int | None:
    if thread.unit == "millimeter" or thread.diameter >= Fraction(1, 4):
        return None
    return int((thread.diameter * 1000 - 60) / 13)


def _designation(thread: Thread) -> str:
    number = _number(thread)
    return thread.designation if number is None else f"#{number}-{1 / thread.pitch}"


def _name(thread: Thread) -> str:
    """The thread, written so that a voice reads no range and no difference into it."""
    number = _number(thread)
    if number is not None:
        return f"number {number}, {1 / thread.pitch} threads"
    if thread.unit == "inch" and thread.diameter.denominator == 1:
        return f"{thread.diameter} inch, {1 / thread.pitch} threads"
    if thread.unit == "millimeter" and thread.series == "coarse":
        return thread.size
    return thread.designation


def _decimal(value: Fraction) -> Decimal:
    return round(Decimal(value.numerator) / Decimal(value.denominator), 4)
