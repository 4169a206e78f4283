"""Oil for a two-stroke mix."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from companion.handbook.answer import HandbookAnswer, NotInHandbook
from companion.handbook.convert import plain, spoken_quantity
from companion.handbook.unit_table import OunceSystem
from companion.handbook.units import UnitsDoNotFit, convert, dimension

USUAL_RATIOS = (Decimal(16), Decimal(100))
"""Parts of fuel to one of oil; outside these a figure was likely misheard (common practice)."""

POSSIBLE_RATIOS = (Decimal(2), Decimal(250))
"""Outside these nobody mixes anything, and no figure is given."""

MOST_FUEL = Decimal(1000)
"""Liters of fuel that a shop mixes at most; more was misheard or mistyped."""


@dataclass(frozen=True, slots=True)
class MixAnswer(HandbookAnswer):
    """How much oil.

    Attributes:
        ratio: Parts of fuel to one of oil, by volume.
        fuel: Volume of fuel, in ``unit``.
        unit: Of the fuel.
        ounces: Oil in the shop's fluid ounces, unrounded.
        milliliters: Oil, unrounded.
        ounce: Whose fluid ounces.
        unusual: Whether the ratio is outside what makers ask for.
    """

    ratio: Decimal
    fuel: Decimal
    unit: str
    ounces: Decimal
    milliliters: Decimal
    ounce: OunceSystem
    unusual: bool


def mix_for(ratio: Decimal, fuel: Decimal, unit: str, *, ounce: OunceSystem = "us") -> MixAnswer:
    """Work out the oil to add to a volume of fuel.

    Args:
        ratio: Parts of fuel to one of oil, by volume.
        fuel: Volume of fuel, before the oil is added.
        unit: Of the fuel.
        ounce: Which ounce, pint, quart and gallon are meant.

    Raises:
        UnknownUnit: On an unknown unit.
        UnitsDoNotFit: If the unit is none of volume.
        NotInHandbook: If the ratio or the volume is not above zero, or nobody mixes that.
    """
    if dimension(unit) != "volume":
        raise UnitsDoNotFit(f"Fuel is measured by volume, in gallons or liters, not in {unit}.")
    if not (ratio.is_finite() and ratio > 0 and fuel.is_finite() and fuel > 0):
        raise NotInHandbook("A mix needs a ratio and an amount of fuel above zero.")
    if not POSSIBLE_RATIOS[0] <= ratio <= POSSIBLE_RATIOS[1]:
        raise NotInHandbook(f"Nobody mixes fuel {plain(ratio)} to 1; check the maker's ratio.")
    if convert(fuel, unit, "liter", ounce=ounce) > MOST_FUEL:
        raise NotInHandbook(f"That is more than {plain(MOST_FUEL)} liters of fuel; check it.")
    oil = fuel / ratio
    ounces = convert(oil, unit, f"{ounce} ounce", ounce=ounce)
    milliliters = convert(oil, unit, "milliliter", ounce=ounce)
    unusual = not USUAL_RATIOS[0] <= ratio <= USUAL_RATIOS[1]
    text = (
        f"{plain(ratio)} to 1 for {spoken_quantity(fuel, unit, ounce)}: "
        f"{spoken_quantity(ounces, f'{ounce} ounce')} of oil, "
        f"{spoken_quantity(milliliters, 'milliliter')}."
    )
    if unusual:
        text += " Unusual: check the maker's ratio."
    return MixAnswer(
        text=text,
        source="by volume, fuel to oil; US and imperial measures by NIST SP 811",
        ratio=ratio,
        fuel=fuel,
        unit=unit,
        ounces=ounces,
        milliliters=milliliters,
        ounce=ounce,
        unusual=unusual,
        note="Use the maker's ratio and an oil made for it. Mix outdoors, away from any spark.",
    )
