"""Screw threads: standard sizes and pitches, how a size is typed and said, and the stress area."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from types import MappingProxyType
from typing import Literal

from companion.files.quoting import quoted
from companion.handbook.answer import NotInHandbook

SizeUnit = Literal["inch", "millimeter"]
Series = Literal["coarse", "fine"]

UNIFIED_COARSE: Mapping[Fraction, int] = MappingProxyType(
    {
        Fraction(1, 4): 20,
        Fraction(5, 16): 18,
        Fraction(3, 8): 16,
        Fraction(7, 16): 14,
        Fraction(1, 2): 13,
        Fraction(9, 16): 12,
        Fraction(5, 8): 11,
        Fraction(3, 4): 10,
        Fraction(7, 8): 9,
        Fraction(1): 8,
    }
)
"""UNC, ASME B1.1: threads per inch by diameter in inches."""

UNIFIED_FINE: Mapping[Fraction, int] = MappingProxyType(
    {
        Fraction(1, 4): 28,
        Fraction(5, 16): 24,
        Fraction(3, 8): 24,
        Fraction(7, 16): 20,
        Fraction(1, 2): 20,
        Fraction(9, 16): 18,
        Fraction(5, 8): 18,
        Fraction(3, 4): 16,
        Fraction(7, 8): 14,
        Fraction(1): 12,
    }
)
"""UNF, ASME B1.1: threads per inch by diameter in inches."""

METRIC_COARSE: Mapping[Fraction, Fraction] = MappingProxyType(
    {
        Fraction(diameter): Fraction(pitch)
        for diameter, pitch in (
            ("3", "0.5"),
            ("4", "0.7"),
            ("5", "0.8"),
            ("6", "1"),
            ("8", "1.25"),
            ("10", "1.5"),
            ("12", "1.75"),
            ("14", "2"),
            ("16", "2"),
            ("18", "2.5"),
            ("20", "2.5"),
            ("22", "2.5"),
            ("24", "3"),
        )
    }
)
"""ISO 261 coarse series: pitch by diameter, both in millimetres."""

METRIC_FINE: Mapping[Fraction, tuple[Fraction, ...]] = MappingProxyType(
    {
        Fraction(diameter): tuple(Fraction(pitch) for pitch in pitches)
        for diameter, pitches in (
            ("8", ("1",)),
            ("10", ("1.25", "1")),
            ("12", ("1.5", "1.25")),
            ("14", ("1.5",)),
            ("16", ("1.5",)),
            ("18", ("1.5", "2")),
            ("20", ("1.5", "2")),
            ("22", ("1.5", "2")),
            ("24", ("2",)),
        )
    }
)
"""ISO 262 fine pitches for screws, bolts and nuts, by diameter, in millimetres."""


PLUG_THREADS: Mapping[Fraction, Fraction] = MappingProxyType(
    {
        Fraction(10): Fraction(1),
        Fraction(12): Fraction("1.25"),
        Fraction(14): Fraction("1.25"),
        Fraction(18): Fraction("1.5"),
    }
)
"""Threads of spark plugs, by diameter, in millimetres: ISO 28741 (formerly ISO 1919, 2344, 2345,
2704 and 2705), from memory. ISO 261 lists M14x1.25 for spark plugs alone."""


@dataclass(frozen=True, slots=True)
class Thread:
    """One standard thread.

    Attributes:
        diameter: Nominal, in ``unit``.
        pitch: From thread to thread, in ``unit``.
        unit: ``inch`` or ``millimeter``.
        series: ``coarse`` or ``fine``.
    """

    diameter: Fraction
    pitch: Fraction
    unit: SizeUnit
    series: Series

    @property
    def size(self) -> str:
        """How the size alone is written: "3/8 inch", "M8"."""
        return size_text(self.diameter, self.unit)

    @property
    def designation(self) -> str:
        """How the whole thread is written: "3/8-16", "M8x1.25"."""
        if self.unit == "inch":
            return f"{self.diameter}-{1 / self.pitch}"
        return f"M{_decimal_text(self.diameter)}x{_decimal_text(self.pitch)}"

    @property
    def stress_area(self) -> float:
        """Tensile stress area in ``unit`` squared.

        Source: ASME B1.1, π/4·(D − 0.9743·P)²; ISO 898-1, π/4·(d − 0.9382·P)². Both are the circle
        of the mean of pitch and minor diameter; the standards differ in the minor diameter taken.
        """
        taken = 0.9743 if self.unit == "inch" else 0.9382
        return math.pi / 4 * (float(self.diameter) - taken * float(self.pitch)) ** 2


def standard_thread(
    size: Decimal | Fraction, unit: SizeUnit, pitch: Decimal | Fraction | None = None
) -> Thread:
    """Return a standard thread by its diameter.

    Args:
        size: Nominal diameter, in ``unit``.
        unit: ``inch`` or ``millimeter``.
        pitch: Threads per inch, or pitch in millimetres; the coarse thread if None.

    Raises:
        NotInHandbook: If the tables have no such size, or no such thread on it.
    """
    diameter = Fraction(size)
    if unit == "inch":
        coarse = {d: Fraction(1, n) for d, n in UNIFIED_COARSE.items()}
        fine: dict[Fraction, tuple[Fraction, ...]] = {
            d: (Fraction(1, n),) for d, n in UNIFIED_FINE.items()
        }
    else:
        coarse = dict(METRIC_COARSE)
        fine = {d: tuple(dict.fromkeys((*METRIC_FINE.get(d, ()), *_plug_pitch(d)))) for d in coarse}
    if diameter not in coarse:
        raise NotInHandbook(_no_such_size(diameter, unit))
    if pitch is None:
        return Thread(diameter, coarse[diameter], unit, "coarse")
    wanted = Fraction(pitch)
    if wanted > 0 and unit == "inch":
        wanted = 1 / wanted
    if wanted == coarse[diameter]:
        return Thread(diameter, wanted, unit, "coarse")
    if wanted in fine.get(diameter, ()):
        return Thread(diameter, wanted, unit, "fine")
    known = [
        Thread(diameter, p, unit, "coarse") for p in (coarse[diameter], *fine.get(diameter, ()))
    ]
    raise NotInHandbook(
        f"The handbook has no such thread on {size_text(diameter, unit)}; "
        f"it has {' and '.join(thread.designation for thread in known)}."
    )


def _plug_pitch(diameter: Fraction) -> tuple[Fraction, ...]:
    pitch = PLUG_THREADS.get(diameter)
    return () if pitch is None else (pitch,)


def fine_pitch(size: Fraction, unit: SizeUnit) -> Fraction:
    """Return the pitch of the fine thread on a size: threads per inch, or millimetres.

    Raises:
        NotInHandbook: If the size has no fine thread in the tables, or more than one.
    """
    if unit == "inch":
        if size in UNIFIED_FINE:
            return Fraction(UNIFIED_FINE[size])
    elif len(METRIC_FINE.get(size, ())) == 1:
        return METRIC_FINE[size][0]
    elif size in METRIC_FINE:
        pitches = " and ".join(_decimal_text(pitch) for pitch in METRIC_FINE[size])
        raise NotInHandbook(
            f"{size_text(size, unit)} has fine threads of {pitches} millimeters: look it up typed."
        )
    raise NotInHandbook(f"The handbook has no fine thread on {size_text(size, unit)}.")


def parse_size(text: str) -> tuple[Fraction, SizeUnit, Fraction | None]:
    """Read a typed size: "3/8", "3/8-16", "0.375 inch", "M8", "M8x1".

    Returns:
        The diameter, its unit, and threads per inch or pitch in millimetres where one was given.

    Raises:
        NotInHandbook: If it is no size.
    """
    typed = text.lower().replace("×", "x").replace('"', " inch").strip()
    metric = re.fullmatch(r"m\s*(\d+(?:\.\d+)?)(?:\s*x\s*(\d+(?:\.\d+)?))?", typed)
    inch = re.fullmatch(r"(\d+/\d+|\d*\.\d+|\d+)(?:\s*-\s*(\d+))?(?:\s*(?:in|inch|inches))?", typed)
    found, unit = (metric, "millimeter") if metric else (inch, "inch")
    if found:
        try:
            diameter = _fraction(found[1])
            pitch = _fraction(found[2]) if found[2] else None
        # A number with thousands of digits is refused by Python itself.
        except (ZeroDivisionError, InvalidOperation, ValueError):
            pass
        else:
            return diameter, "millimeter" if unit == "millimeter" else "inch", pitch
    raise NotInHandbook(
        f"'{quoted(text)}' is no bolt size; type it like 3/8, 3/8-16 (threads per inch), M8 or "
        "M8x1.25."
    )


def size_text(diameter: Fraction, unit: SizeUnit) -> str:
    """Write a size: "3/8 inch", "M8"."""
    if unit == "millimeter":
        return f"M{_decimal_text(diameter)}"
    small = diameter if diameter.denominator <= 64 else _decimal_text(diameter)
    return f"{small} inch"


def _fraction(text: str) -> Fraction:
    return Fraction(text) if "/" in text else Fraction(Decimal(text))


def _decimal_text(value: Fraction) -> str:
    return format((Decimal(value.numerator) / Decimal(value.denominator)).normalize(), "f")


def _no_such_size(diameter: Fraction, unit: SizeUnit) -> str:
    if unit == "inch":
        return (
            f"The handbook has no {size_text(diameter, unit)} bolt; it has 1/4 to 5/8 by "
            "sixteenths, 3/4, 7/8 and 1 inch."
        )
    sizes = ", ".join(size_text(size, unit) for size in METRIC_COARSE)
    return f"The handbook has no {size_text(diameter, unit)} bolt; it has {sizes}."
