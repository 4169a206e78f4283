"""How full a 12 volt lead-acid battery is, from its volts at rest."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

from companion.handbook.answer import HandbookAnswer, NotInHandbook
from companion.handbook.convert import plain
from companion.handbook.rounding import to_step

REST_VOLTS = tuple(
    (Decimal(volts), percent)
    for volts, percent in (
        ("11.89", 0),
        ("12.06", 25),
        ("12.24", 50),
        ("12.45", 75),
        ("12.65", 100),
    )
)
"""Open-circuit volts of a flooded battery at about 27 °C (80 °F), and percent of full charge.

Source: table of the Battery Council International's service manual, from memory.
"""

FULL_UP_TO = Decimal("12.9")
"""Sealed glass-mat batteries rest this high when full; above it a charge has not settled yet."""

DEAD_BELOW = Decimal("10.8")
"""Below this a cell is likely gone: five good cells of six rest at 10.5 V (common practice)."""

SIX_VOLT = (Decimal("5.8"), Decimal("6.8"))
"""A 6 volt battery, flat to freshly charged."""

HIGHEST = Decimal(16)
"""Volts above which nothing that is meant for 12 V was measured."""

CHARGE_BELOW = 75
"""Percent below which a lead-acid battery should not be left to stand (common practice)."""


@dataclass(frozen=True, slots=True)
class BatteryAnswer(HandbookAnswer):
    """A battery's charge.

    Attributes:
        volts: As measured at rest.
        percent: Of full charge, between the lines of the table; None where the volts tell no
            charge.
    """

    volts: Decimal
    percent: Decimal | None


def charge_at(volts: Decimal) -> BatteryAnswer:
    """Tell the charge of a 12 volt lead-acid battery that has rested, with nothing on.

    Args:
        volts: Measured across its posts.

    Raises:
        NotInHandbook: If no 12 volt battery can read that.
    """
    if not (volts.is_finite() and 0 < volts <= HIGHEST):
        raise NotInHandbook(
            f"No 12 volt battery rests at {plain(volts)} volts; check the meter and its leads."
        )
    percent, text = _judged(volts)
    return BatteryAnswer(
        text=f"{plain(volts)} volts at rest: {text}",
        source="Battery Council International table for 12 volt lead acid, from memory",
        volts=volts,
        percent=percent,
        note=(
            "For a 12 volt lead-acid battery, off the charger and with nothing on for some hours, "
            "near 25 degrees celsius. Other chemistries differ; the maker's figures win. Charging "
            "gives off explosive gas: air, no sparks, eyes and skin covered."
        ),
    )


def _judged(volts: Decimal) -> tuple[Decimal | None, str]:
    if SIX_VOLT[0] <= volts <= SIX_VOLT[1]:
        return None, "that is a 6 volt battery, or a 12 volt one that is ruined."
    if volts < DEAD_BELOW:
        return None, "far below flat. A cell is likely dead; load test it after charging."
    if volts > FULL_UP_TO:
        return None, "no resting battery reads that. Charger off, wait some hours, measure again."
    percent = _percent(volts)
    said = plain(to_step(percent, 5))
    if percent <= 0:
        return percent, "flat. Charge it now."
    if percent < CHARGE_BELOW:
        return percent, f"about {said} percent. Charge it before it stands."
    return percent, f"about {said} percent charged."


def _percent(volts: Decimal) -> Decimal:
    if volts <= REST_VOLTS[0][0]:
        return Decimal(REST_VOLTS[0][1])
    for (low, from_), (high, to) in pairwise(REST_VOLTS):
        if volts <= high:
            return from_ + (to - from_) * (volts - low) / (high - low)
    return Decimal(REST_VOLTS[-1][1])
