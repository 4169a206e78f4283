"""A quantity in another unit, rounded as a person would say it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal, localcontext

from companion.handbook.answer import HandbookAnswer
from companion.handbook.unit_table import OunceSystem
from companion.handbook.units import convert, unit_named, whose

MOST_DIGITS = 4
"""Significant digits said at most."""

FEWEST_DIGITS = 2
"""Significant digits said at least, however small the value: half a millilitre must not become 0
ounces."""


@dataclass(frozen=True, slots=True)
class ConvertAnswer(HandbookAnswer):
    """A converted quantity.

    Attributes:
        value: As asked.
        unit: As asked.
        result: Unrounded.
        to: Unit of the result.
        rounded: The result as said.
    """

    value: Decimal
    unit: str
    result: Decimal
    to: str
    rounded: Decimal


def convert_quantity(
    value: Decimal, unit: str, to: str, *, ounce: OunceSystem = "us"
) -> ConvertAnswer:
    """Express a quantity in another unit.

    Args:
        value: In ``unit``.
        unit: A unit's name.
        to: A unit's name.
        ounce: Which ounce, pint, quart and gallon are meant.

    Raises:
        UnknownUnit: If either unit is unknown.
        UnitsDoNotFit: If they measure different things.
    """
    result = convert(value, unit, to, ounce=ounce)
    said = spoken_quantity(result, to, ounce)
    return ConvertAnswer(
        text=f"{plain(value)} {_unit_words(value, unit, ounce)} is {said}.",
        source="NIST SP 811, appendix B.8",
        value=value,
        unit=unit,
        result=result,
        to=to,
        rounded=rounded(result, to),
    )


def rounded(value: Decimal, unit: str) -> Decimal:
    """Round a value to what is worth saying in its unit.

    Raises:
        UnknownUnit: On an unknown unit.
    """
    if value == 0:
        return Decimal(0)
    finest = unit_named(unit).finest
    with localcontext() as context:
        context.prec = 60
        largest_digit = value.adjusted()
        coarsest_wanted = Decimal(1).scaleb(largest_digit - FEWEST_DIGITS + 1)
        finest_wanted = Decimal(1).scaleb(largest_digit - MOST_DIGITS + 1)
        step = min(max(finest, finest_wanted), coarsest_wanted)
        steps = (value / step).to_integral_value(ROUND_HALF_EVEN)
        return Decimal(plain(steps * step))


def plain(value: Decimal) -> str:
    """Write a decimal without exponent and without needless zeros."""
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def spoken_quantity(value: Decimal, unit: str, ounce: OunceSystem = "us") -> str:
    """Write a value, rounded, with its unit in words: "0.762 millimeters", "20 US ounces".

    Args:
        value: In ``unit``.
        unit: A unit's name.
        ounce: Which ounce, pint, quart and gallon are meant.
    """
    short = rounded(value, unit)
    return f"{plain(short)} {_unit_words(short, unit, ounce)}"


def _unit_words(value: Decimal, unit: str, ounce: OunceSystem) -> str:
    """The unit in words; for ounce, pint, quart and gallon always whether US or imperial."""
    return unit_named(whose(unit, ounce)).printed(plural=value != 1)
