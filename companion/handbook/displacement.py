"""Displacement of an engine from bore and stroke, and its compression ratio."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from companion.handbook.answer import HandbookAnswer, NotInHandbook
from companion.handbook.convert import plain
from companion.handbook.rounding import PI, to_digits, to_step
from companion.handbook.units import UnitsDoNotFit, convert, dimension, spoken

SMALLEST, LARGEST = Decimal("0.5"), Decimal(6)
"""Bores and strokes of small engines, in inches; outside these a figure was likely misheard."""

CYLINDERS = range(1, 5)
"""Small engines have one or two cylinders, a few have three or four."""

CUBIC_MILLIMETERS = 1000
"""Cubic millimeters in a cubic centimeter."""

CUBIC_INCH = Decimal("16.387064")
"""Cubic centimeters in a cubic inch: 2.54 cubed, NIST SP 811."""

USUAL_RATIOS = (Decimal(5), Decimal(13))
"""Compression ratios of small gasoline engines (common practice); others are said to be unusual."""

HIGHEST_RATIO = Decimal(30)
"""Not even a diesel compresses more."""


@dataclass(frozen=True, slots=True)
class DisplacementAnswer(HandbookAnswer):
    """An engine's displacement.

    Attributes:
        bore: In ``unit``.
        stroke: In ``unit``.
        unit: A unit of length.
        cylinders: How many.
        cubic_centimeters: Of all cylinders, unrounded.
        cubic_inches: The same.
    """

    bore: Decimal
    stroke: Decimal
    unit: str
    cylinders: int
    cubic_centimeters: Decimal
    cubic_inches: Decimal


@dataclass(frozen=True, slots=True)
class CompressionRatioAnswer(HandbookAnswer):
    """A cylinder's compression ratio.

    Attributes:
        swept: Displacement of one cylinder, in ``unit``.
        chamber: Volume left above the piston at the top, in ``unit``.
        unit: A unit of volume.
        ratio: To one, unrounded.
    """

    swept: Decimal
    chamber: Decimal
    unit: str
    ratio: Decimal


def displacement_of(
    bore: Decimal, stroke: Decimal, unit: str, cylinders: int = 1
) -> DisplacementAnswer:
    """Work out π/4·bore²·stroke for all cylinders.

    Args:
        bore: In ``unit``.
        stroke: In ``unit``.
        unit: A unit of length.
        cylinders: How many.

    Raises:
        UnknownUnit: On an unknown unit.
        UnitsDoNotFit: If the unit is none of length.
        NotInHandbook: If no small engine is that large, or has so many cylinders.
    """
    if dimension(unit) != "length":
        raise UnitsDoNotFit(f"Bore and stroke are in inches or millimeters, not in {unit}.")
    if cylinders not in CYLINDERS:
        raise NotInHandbook(f"A small engine has 1 to {CYLINDERS[-1]} cylinders, not {cylinders}.")
    for name, size in (("bore", bore), ("stroke", stroke)):
        if not (size.is_finite() and SMALLEST <= convert(size, unit, "inch") <= LARGEST):
            raise NotInHandbook(
                f"No small engine has a {name} of {plain(size)} {spoken(unit, plural=True)}; the "
                f"handbook takes {plain(SMALLEST)} to {plain(LARGEST)} inches."
            )
    across = convert(bore, unit, "millimeter")
    swept = PI / 4 * across * across * convert(stroke, unit, "millimeter")
    cubic_centimeters = cylinders * swept / CUBIC_MILLIMETERS
    cubic_inches = cubic_centimeters / CUBIC_INCH
    each = ("", ", twin", ", 3 cylinders", ", 4 cylinders")[cylinders - 1]
    text = (
        f"{plain(bore)} by {plain(stroke)} {spoken(unit, plural=True)}{each}: "
        f"{plain(_whole_or_tenth(cubic_centimeters))} cc, "
        f"{plain(to_digits(cubic_inches, 3))} cubic inches."
    )
    return DisplacementAnswer(
        text=text,
        source="area of the bore times stroke; cubic inch by NIST SP 811",
        bore=bore,
        stroke=stroke,
        unit=unit,
        cylinders=cylinders,
        cubic_centimeters=cubic_centimeters,
        cubic_inches=cubic_inches,
        note="Bore first, then stroke.",
    )


def compression_ratio(swept: Decimal, chamber: Decimal, unit: str) -> CompressionRatioAnswer:
    """Work out (swept + chamber) / chamber of one cylinder.

    Args:
        swept: Displacement of one cylinder, in ``unit``.
        chamber: Volume left above the piston at the top, gasket and plug hole counted, in ``unit``.
        unit: A unit of volume.

    Raises:
        UnknownUnit: On an unknown unit.
        UnitsDoNotFit: If the unit is none of volume.
        NotInHandbook: If a volume is not above zero, or no engine compresses that much.
    """
    if dimension(unit) != "volume":
        raise UnitsDoNotFit(f"Both are volumes, in milliliters say, not in {unit}.")
    if not (swept.is_finite() and swept > 0 and chamber.is_finite() and chamber > 0):
        raise NotInHandbook("A compression ratio needs two volumes above zero.")
    ratio = (swept + chamber) / chamber
    if ratio > HIGHEST_RATIO or ratio < Decimal("1.5"):
        raise NotInHandbook(
            f"No engine compresses {plain(to_digits(ratio, 3))} to 1; give the displacement of one "
            "cylinder first, then its chamber."
        )
    unusual = not USUAL_RATIOS[0] <= ratio <= USUAL_RATIOS[1]
    text = f"{plain(to_step(ratio, '0.1'))} to 1."
    if unusual:
        text += " That is unusual in a small gasoline engine: check both volumes."
    return CompressionRatioAnswer(
        text=text,
        source="displacement plus chamber, over chamber, of one cylinder",
        swept=swept,
        chamber=chamber,
        unit=unit,
        ratio=ratio,
        note="Geometric: the valves close later, so a gauge shows less than the ratio promises.",
    )


def _whole_or_tenth(volume: Decimal) -> Decimal:
    return to_step(volume, 1) if volume >= 100 else to_step(volume, "0.1")
