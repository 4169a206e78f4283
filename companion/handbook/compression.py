"""What a compression reading suggests, dry alone or dry and wet."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from companion.handbook.answer import HandbookAnswer, NotInHandbook
from companion.handbook.convert import plain, rounded
from companion.handbook.units import UnitsDoNotFit, convert, dimension, unit_named

LOW_BELOW = Decimal(90)
"""Psi below which a small four-stroke is usually worn (common practice).

Many engines have a compression release that lowers a healthy reading; the maker's figure decides.
"""

HIGH_ABOVE = Decimal(200)
"""Psi above which carbon is suspected, or a compression release that does not work (common
practice); many an engine that has a release reads far less, and its sheet says so."""

HIGHEST = Decimal(400)
"""Psi that no gasoline engine reaches on the starter; beyond it a figure was misread."""

RISES, STAYS = Decimal("0.15"), Decimal("0.05")
"""Share by which a wet reading is above the dry one: from ``RISES`` on it has clearly risen, up to
``STAYS`` it has not (common practice; shops draw the line near a tenth)."""

Suggestion = Literal[
    "zero", "good", "measure wet", "rings", "valves or gasket", "unclear", "high", "measure again"
]


@dataclass(frozen=True, slots=True)
class CompressionAnswer(HandbookAnswer):
    """What a compression reading suggests.

    Attributes:
        dry: In ``unit``.
        wet: With a little oil in the cylinder, in ``unit``, or None.
        unit: A unit of pressure.
        least: The sheet's lowest, in ``unit``, or None.
        most: The sheet's highest, in ``unit``, or None.
        suggests: In a word or two.
    """

    dry: Decimal
    wet: Decimal | None
    unit: str
    least: Decimal | None
    most: Decimal | None
    suggests: Suggestion


def compression_suggests(
    dry: Decimal,
    unit: str,
    wet: Decimal | None = None,
    least: Decimal | None = None,
    most: Decimal | None = None,
) -> CompressionAnswer:
    """Say what a compression reading suggests.

    Oil seals rings for a few turns and leaves valves and gasket as they are: where the wet reading
    rises, the rings leak.

    Args:
        dry: In ``unit``.
        unit: A unit of pressure.
        wet: After a spoonful of oil in the cylinder, in ``unit``.
        least: The lowest that the machine's sheet allows, in ``unit``; it counts before the usual
            figure.
        most: The highest that it allows, in ``unit``; it counts before the usual figure as well.

    Raises:
        UnknownUnit: On an unknown unit.
        UnitsDoNotFit: If the unit is none of pressure.
        NotInHandbook: If no engine reads that.
    """
    if dimension(unit) != "pressure":
        raise UnitsDoNotFit(f"Compression is read in psi, kilopascals or bar, not in {unit}.")
    highest = convert(HIGHEST, "psi", unit)
    for each in (dry, wet):
        if each is not None and not (each.is_finite() and 0 <= each <= highest):
            raise NotInHandbook(
                f"No small engine reads {_said(each, unit)}; the handbook takes 0 to "
                f"{_said(rounded(highest, unit), unit)}."
            )
    low_below = convert(LOW_BELOW, "psi", unit) if least is None else least
    high_above = convert(HIGH_ABOVE, "psi", unit) if most is None else most
    suggests = _suggested(dry, wet, low_below, high_above)
    readings = _said(dry, unit) if wet is None else f"dry {plain(dry)}, wet {_said(wet, unit)}"
    return CompressionAnswer(
        text=f"{readings}: {_advice(suggests, of_sheet=least is not None)}",
        source="common practice",
        dry=dry,
        wet=wet,
        unit=unit,
        least=least,
        most=most,
        suggests=suggests,
        note=(
            "Engine warm, throttle and choke open, battery strong or the same pull each time. A "
            "compression release makes a sound engine read low: then a leak-down test tells more. "
            "Plug wire grounded away from the plug hole. The maker's figure wins."
        ),
    )


def _suggested(
    dry: Decimal, wet: Decimal | None, low_below: Decimal, high_above: Decimal
) -> Suggestion:
    if dry == 0:
        return "zero"
    if wet is not None and wet < dry * (1 - STAYS):
        return "measure again"
    if dry > high_above:
        return "high"
    if dry >= low_below:
        return "good"
    if wet is None:
        return "measure wet"
    if wet > dry and wet >= dry * (1 + RISES):
        return "rings"
    return "valves or gasket" if wet <= dry * (1 + STAYS) else "unclear"


def _advice(suggests: Suggestion, *, of_sheet: bool) -> str:
    match suggests:
        case "zero":
            return "first check gauge and connection, then for a valve stuck open."
        case "good":
            return "within the sheet." if of_sheet else "fair or better for a small engine."
        case "measure wet":
            return "low. Put a spoonful of oil in the cylinder and measure again."
        case "rings":
            return "low, and oil raised it. Points to rings or cylinder."
        case "valves or gasket":
            return "low, and oil changed little. Points to a valve or the head gasket."
        case "unclear":
            return "low, and oil raised it a little. Not clear: do a leak down test."
        case "high":
            return "higher than usual: carbon, or a compression release that does not work."
        case "measure again":
            return "wet is below dry. Measure both again."


def _said(value: Decimal, unit: str) -> str:
    return f"{plain(value)} {unit_named(unit).printed(plural=value != 1)}"
