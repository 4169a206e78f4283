"""Which wrench fits a hex bolt, with a usual head, a flange or a small head."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from types import MappingProxyType
from typing import Literal

from companion.files.quoting import quoted
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


Head = Literal["usual", "flange", "small"]
"""The head: the standard hexagon, one with a flange, or a hexagon of smaller width."""


@dataclass(frozen=True, slots=True)
class Widths:
    """Widths across flats of one kind of head.

    Attributes:
        across: By diameter, in the unit of both.
        source: The standard.
    """

    across: Mapping[Fraction, Fraction]
    source: str


def _widths(*rows: tuple[str, str]) -> Mapping[Fraction, Fraction]:
    return MappingProxyType({Fraction(size): Fraction(width) for size, width in rows})


METRIC_FLANGE_SMALL = Widths(
    _widths(("5", "7"), ("6", "8"), ("8", "10"), ("10", "13"), ("12", "16"), ("14", "18"),
            ("16", "21")),
    "ISO 4162, flange bolts of the small series, from memory",
)  # fmt: skip
"""Millimetres. Older M12 flange bolts of this series have 15 (common practice)."""

METRIC_FLANGE_LARGE = Widths(
    _widths(("5", "8"), ("6", "10"), ("8", "13"), ("10", "16"), ("12", "18"), ("14", "21"),
            ("16", "24")),
    "ISO 15071, flange bolts, from memory",
)  # fmt: skip
"""Millimetres: as the usual head but for M10, which DIN 6921 gave 15."""

METRIC_SMALL = Widths(
    _widths(("8", "12"), ("10", "14"), ("12", "17"), ("14", "19"), ("16", "22")),
    "JIS B 1180, small hexagon heads, from memory",
)
"""Millimetres, as on machines from Japan."""

INCH_FLANGE = Widths(
    _widths(("1/4", "3/8"), ("5/16", "1/2"), ("3/8", "9/16"), ("7/16", "5/8"), ("1/2", "3/4")),
    "ASME B18.2.1, hex flange screws, from memory",
)
"""Inches."""


@dataclass(frozen=True, slots=True)
class WrenchAnswer(HandbookAnswer):
    """A wrench size.

    Attributes:
        size: The bolt: "3/8 inch", "M8".
        head: Its head.
        width: Width across flats of the bolt head: "9/16" in inches, "13" in millimetres.
        nut_width: Of the standard nut that belongs to it.
        older_width: Of the usual head to the DIN standard, of a flange to the large series, where
            that differs.
        unit: Of the widths.
    """

    size: str
    head: Head
    width: str
    nut_width: str
    older_width: str | None
    unit: SizeUnit


def wrench_for(size: Decimal | Fraction, unit: SizeUnit, head: Head = "usual") -> WrenchAnswer:
    """Look up the wrench for a hex bolt.

    Args:
        size: Nominal diameter of the thread, in ``unit``.
        unit: ``inch`` or ``millimeter``.
        head: Its head.

    Raises:
        NotInHandbook: If the tables have no such size, or no such head on it.
    """
    diameter = Fraction(size)
    name = size_text(diameter, unit)
    widths = INCH_BOLT_WIDTHS if unit == "inch" else METRIC_WIDTHS
    if diameter not in widths:
        sizes = ", ".join(size_text(each, unit).removesuffix(" inch") for each in widths)
        raise NotInHandbook(f"The handbook has no {name} bolt; it has {sizes}.")
    if head not in ("usual", "flange", "small"):
        raise NotInHandbook(f"A head is usual, flange or small, not '{quoted(head)}'.")
    usual = _width(widths[diameter], unit)
    nut = _width(INCH_NUT_WIDTHS[diameter], unit) if unit == "inch" else usual
    width, older, text, source = (
        _usual(diameter, unit, usual, nut) if head == "usual" else _other(diameter, unit, head)
    )
    return WrenchAnswer(
        text, source, name, head, width, nut, older, unit, note=_note(diameter, unit)
    )


def _usual(
    diameter: Fraction, unit: SizeUnit, width: str, nut: str
) -> tuple[str, str | None, str, str]:
    name = size_text(diameter, unit)
    text = f"{width} {unit} wrench for {'a ' if unit == 'inch' else ''}{name}"
    if unit == "inch":
        text += " bolt." + ("" if nut == width else f" Its nut takes {nut}.")
        return width, None, text, "ASME B18.2.1 and B18.2.2, standard hex heads"
    older = OLDER_METRIC_WIDTHS.get(diameter)
    if older is None:
        return width, None, f"{text}.", "ISO 4014 and 4017"
    older_width = _width(older, unit)
    text += f". To the older DIN standard it is {older_width}."
    return width, older_width, text, "ISO 4014 and 4017; DIN 931 and 933"


def _other(diameter: Fraction, unit: SizeUnit, head: Head) -> tuple[str, str | None, str, str]:
    name = size_text(diameter, unit)
    table = INCH_FLANGE if unit == "inch" else METRIC_FLANGE_SMALL
    if head == "small":
        table = METRIC_SMALL
    across = table.across.get(diameter)
    if across is None or (head == "small" and unit == "inch"):
        raise NotInHandbook(
            f"The handbook has no {name} bolt with a {head} head: measure across the flats."
        )
    width = _width(across, unit)
    text = f"{width} {unit} wrench for {name} with a {head}{' head' if head == 'small' else ''}."
    if head == "small" or unit == "inch":
        return width, None, text, table.source
    large = _width(METRIC_FLANGE_LARGE.across[diameter], unit)
    text += f" With a large one it is {large}."
    return width, large, text, f"{table.source}; {METRIC_FLANGE_LARGE.source}"


def _note(diameter: Fraction, unit: SizeUnit) -> str:
    """Which other wrenches a bolt of this size may want."""
    others = (
        (("flange", INCH_FLANGE),)
        if unit == "inch"
        else (
            ("small flange", METRIC_FLANGE_SMALL),
            ("large flange", METRIC_FLANGE_LARGE),
            ("small head", METRIC_SMALL),
        )
    )
    said = [
        f"{name} {_width(table.across[diameter], unit)}"
        for name, table in others
        if diameter in table.across
    ]
    heads = f"Other heads: {', '.join(said)}. " if said else ""
    return f"{heads}A wrench that rocks rounds the corners: measure across the flats when in doubt."


def _width(width: Fraction, unit: SizeUnit) -> str:
    if unit == "millimeter":
        return format(float(width), "g")
    whole, rest = divmod(width, 1)
    return f"{whole} {rest}" if whole and rest else str(width)
