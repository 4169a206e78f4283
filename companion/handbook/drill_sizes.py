"""Twist drills in stock sizes: fractions, numbers, letters and millimetres."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from string import ascii_uppercase
from types import MappingProxyType
from typing import Literal

_BY_NUMBER = (
    2280, 2210, 2130, 2090, 2055, 2040, 2010, 1990, 1960, 1935, 1910, 1890, 1850, 1820, 1800, 1770,
    1730, 1695, 1660, 1610, 1590, 1570, 1540, 1520, 1495, 1470, 1440, 1405, 1360, 1285, 1200, 1160,
    1130, 1110, 1100, 1065, 1040, 1015, 995, 980, 960, 935, 890, 860, 820, 810, 785, 760, 730, 700,
    670, 635, 595, 550, 520, 465, 430, 420, 410, 400,
)  # fmt: skip
_BY_LETTER = (
    234, 238, 242, 246, 250, 257, 261, 266, 272, 277, 281, 290, 295, 302, 316, 323, 332, 339, 348,
    358, 368, 377, 386, 397, 404, 413,
)  # fmt: skip

NUMBER_DRILLS: Mapping[int, Fraction] = MappingProxyType(
    {number: Fraction(size, 10_000) for number, size in enumerate(_BY_NUMBER, start=1)}
)
"""ASME B94.11M, number sizes 1 to 60: diameter in inches, from memory."""

LETTER_DRILLS: Mapping[str, Fraction] = MappingProxyType(
    {letter: Fraction(size, 1000) for letter, size in zip(ascii_uppercase, _BY_LETTER, strict=True)}
)
"""ASME B94.11M, letter sizes: diameter in inches, from memory."""

FRACTION_DRILLS = tuple(Fraction(sixty_fourths, 64) for sixty_fourths in range(4, 65))
"""1/16 to 1 inch by sixty-fourths."""

METRIC_DRILLS = (
    *(Fraction(tenths, 10) for tenths in range(10, 141)),
    *(Fraction(halves, 2) for halves in range(29, 51)),
)
"""1 to 14 mm by tenths, then to 25 mm by halves, as shops stock them (common practice)."""


@dataclass(frozen=True, slots=True)
class Drill:
    """One drill.

    Attributes:
        said: "5/16 inch", "number 7", "letter F", "6.8 millimeters".
        diameter: In ``unit``.
        unit: ``inch`` or ``millimeter``.
    """

    said: str
    diameter: Fraction
    unit: Literal["inch", "millimeter"]


INCH_STOCK = (
    *(Drill(f"{size} inch", size, "inch") for size in FRACTION_DRILLS),
    *(Drill(f"number {n}", size, "inch") for n, size in NUMBER_DRILLS.items()),
    *(Drill(f"letter {a}", size, "inch") for a, size in LETTER_DRILLS.items()),
)
"""Every inch drill; the fraction first where a letter has the same diameter."""

METRIC_STOCK = tuple(
    Drill(f"{format(float(size), 'g')} millimeter{'' if size == 1 else 's'}", size, "millimeter")
    for size in METRIC_DRILLS
)
"""Every metric drill."""


def nearest_inch_drill(diameter: Fraction) -> Drill:
    """Return the stock drill nearest to a diameter in inches."""
    return _nearest(INCH_STOCK, diameter)


def nearest_metric_drill(diameter: Fraction) -> Drill:
    """Return the stock drill nearest to a diameter in millimetres."""
    return _nearest(METRIC_STOCK, diameter)


def _nearest(stock: Iterable[Drill], diameter: Fraction) -> Drill:
    return min(stock, key=lambda drill: abs(drill.diameter - diameter))
