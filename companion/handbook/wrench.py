"""Which wrench fits a hex bolt."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from types import MappingProxyType

from companion.handbook.answer import HandbookAnswer, NotInHandbook
from companion.handbook.thread import SizeUnit, size_text

INCH_BOLT_WIDTHS: Mapping[Fraction, Fraction] = MappingProxyType(
    {
        Fraction(1, 4): Fraction(7, 16),
        Fraction(5, 16): Fraction(1, 2),
        Fraction(3, 8): Fraction(9, 16),
        Fraction(7, 16): Fraction(5, 8),
        Fraction(1, 2): Fraction(3, 4),
        Fraction(9, 16): Fraction(13, 16),
        Fraction(5, 8): Fraction(15, 16),
        Fraction(3, 4): Fraction(9, 8),
        Fraction(7, 8): Fraction(21, 16),
        Fraction(1): Fraction(3, 2),
    }
)
"""ASME B18.2.1, hex bolts and hex cap screws: width across flats by diameter, both in inches."""

INCH_NUT_WIDTHS: Mapping[Fraction, Fraction] = MappingProxyType(
    {**INCH_BOLT_WIDTHS, Fraction(7, 16): Fraction(11, 16), Fraction(9, 16): Fraction(7, 8)}
)
"""ASME B18.2.2, hex nuts: as the bolts, but for 7/16 and 9/16."""

METRIC_WIDTHS: Mapping[Fraction, Fraction] = MappingProxyType(
    {
        Fraction(diameter): Fraction(width)
        for diameter, width in (
            (3, "5.5"),
            (4, "7"),
            (5, "8"),
            (6, "10"),
            (8, "13"),
            (10, "16"),
            (12, "18"),
            (14, "21"),
            (16, "24"),
            (18, "27"),
            (20, "30"),
            (22, "34"),
            (24, "36"),
        )
    }
)
"""ISO 4014 and ISO 4017, hex bolts and screws: width across flats by diameter, in millimetres."""

OLDER_METRIC_WIDTHS: Mapping[Fraction, Fraction] = MappingProxyType(
    {Fraction(10): Fraction(17), Fraction(12): Fraction(19), Fraction(14): Fraction(22),
     Fraction(22): Fraction(32)}
)  # fmt: skip
"""DIN 931 and DIN 933, where they differ from ISO; such bolts are still sold and still found."""


@dataclass(frozen=True, slots=True)
class WrenchAnswer(HandbookAnswer):
    """A wrench size.

    Attributes:
        size: The bolt: "3/8 inch", "M8".
        width: Width across flats of the bolt head: "9/16" in inches, "13" in millimetres.
        nut_width: Of the nut that belongs to it.
        older_width: To the DIN standard, where that differs.
        unit: Of the widths.
    """

    size: str
    width: str
    nut_width: str
    older_width: str | None
    unit: SizeUnit


def wrench_for(size: Decimal | Fraction, unit: SizeUnit) -> WrenchAnswer:
    """Look up the wrench for a hex bolt of standard head.

    Args:
        size: Nominal diameter of the thread, in ``unit``.
        unit: ``inch`` or ``millimeter``.

    Raises:
        NotInHandbook: If the tables have no such size.
    """
    diameter = Fraction(size)
    name = size_text(diameter, unit)
    widths = INCH_BOLT_WIDTHS if unit == "inch" else METRIC_WIDTHS
    if diameter not in widths:
        sizes = ", ".join(size_text(each, unit).removesuffix(" inch") for each in widths)
        raise NotInHandbook(f"The handbook has no {name} bolt; it has {sizes}.")
    width = _width(widths[diameter], unit)
    if unit == "inch":
        nut = _width(INCH_NUT_WIDTHS[diameter], unit)
        text = f"{width} inch wrench for a {name} bolt."
        if nut != width:
            text += f" Its nut takes {nut}."
        return WrenchAnswer(
            text, "ASME B18.2.1 and B18.2.2, standard hex heads", name, width, nut, None, unit
        )
    older = OLDER_METRIC_WIDTHS.get(diameter)
    older_width = None if older is None else _width(older, unit)
    text = f"{width} millimeter wrench for {name}."
    if older_width is not None:
        text += f" To the older DIN standard it is {older_width}."
    source = "ISO 4014 and 4017" + ("" if older is None else "; DIN 931 and 933")
    return WrenchAnswer(text, source, name, width, width, older_width, unit)


def _width(width: Fraction, unit: SizeUnit) -> str:
    if unit == "millimeter":
        return format(float(width), "g")
    whole, rest = divmod(width, 1)
    return f"{whole} {rest}" if whole and rest else str(width)
