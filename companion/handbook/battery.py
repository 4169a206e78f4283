"""How full a lead-acid battery is, from its type and its volts at rest."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise
from types import MappingProxyType
from typing import Literal

from companion.files.quoting import quoted
from companion.handbook.answer import HandbookAnswer, NotInHandbook
from companion.handbook.convert import plain
from companion.handbook.rounding import to_step

BatteryType = Literal["flooded lead acid", "absorbed glass mat", "gel", "lithium"]
"""How a battery is built, as spec sheets name it."""


@dataclass(frozen=True, slots=True)
class RestVolts:
    """One type's open-circuit volts at about 25 °C, for 12 volts nominal.

    Attributes:
        rows: Volts and percent of full charge, rising.
        settled_up_to: Volts above which a charge has not settled yet.
        source: Where the table is from.
    """

    rows: tuple[tuple[Decimal, int], ...]
    settled_up_to: Decimal
    source: str


def _rows(*volts: str) -> tuple[tuple[Decimal, int], ...]:
    return tuple(
        (Decimal(each), percent) for each, percent in zip(volts, (0, 25, 50, 75, 100), strict=True)
    )


REST_VOLTS: Mapping[BatteryType, RestVolts] = MappingProxyType(
    {
        "flooded lead acid": RestVolts(
            _rows("11.89", "12.06", "12.24", "12.45", "12.65"),
            Decimal("12.9"),
            "Battery Council International table for 12 volt lead acid, from memory",
        ),
        "absorbed glass mat": RestVolts(
            _rows("11.80", "12.00", "12.30", "12.60", "12.80"),
            Decimal("13.1"),
            "usual table for glass mat batteries, from memory",
        ),
        "gel": RestVolts(
            _rows("11.80", "12.00", "12.35", "12.65", "12.85"),
            Decimal("13.1"),
            "usual table for gel batteries, from memory",
        ),
    }
)
"""By type. There is no table for lithium: its volts hardly change between a fifth and nine tenths
of its charge."""

UNSAID: BatteryType = "flooded lead acid"
"""The type that is assumed where nobody said it; the answer names it."""

SAID: Mapping[BatteryType, str] = MappingProxyType(
    {
        "flooded lead acid": "flooded",
        "absorbed glass mat": "glass mat",
        "gel": "gel",
        "lithium": "lithium",
    }
)
"""How a type is said."""

DEAD_BELOW = Decimal("10.8")
"""Below this a cell is likely gone: five good cells of six rest at 10.5 V (common practice)."""

SIX_VOLT = (Decimal("5.8"), Decimal("6.8"))
"""A 6 volt battery, flat to freshly charged."""

HIGHEST = Decimal(16)
"""Volts above which nothing that is meant for 12 V was measured."""

CHARGE_BELOW = 75
"""Percent below which a lead-acid battery should not be left to stand (common practice)."""

NOMINALS = (6, 12, 24)
"""Nominal volts of batteries on outdoor power equipment; every cell of them is alike."""


@dataclass(frozen=True, slots=True)
class BatteryAnswer(HandbookAnswer):
    """A battery's charge.

    Attributes:
        volts: As measured at rest.
        built: How.
        nominal: Its nominal volts.
        percent: Of full charge, between the lines of the table; None where the volts tell no
            charge.
    """

    volts: Decimal
    built: BatteryType
    nominal: int
    percent: Decimal | None


def charge_at(volts: Decimal, built: BatteryType | None = None, nominal: int = 12) -> BatteryAnswer:
    """Tell the charge of a battery that has rested, with nothing on.

    Args:
        volts: Measured across its posts.
        built: How; flooded where nobody said it.
        nominal: Its nominal volts.

    Raises:
        NotInHandbook: If no such battery can read that, or the handbook has no such battery.
    """
    if nominal not in NOMINALS:
        raise NotInHandbook(f"The handbook has batteries of 6, 12 and 24 volts, not {nominal}.")
    taken = built or UNSAID
    if taken not in SAID:
        raise NotInHandbook(f"A battery is {', '.join(SAID.values())}, not '{quoted(taken)}'.")
    if not (volts.is_finite() and 0 < volts <= HIGHEST * nominal / 12):
        raise NotInHandbook(
            f"No {nominal} volt battery rests at {plain(volts)} volts; check the meter and its "
            "leads."
        )
    percent, text = _judged(volts * 12 / nominal, taken, nominal)
    said = f"taken as {SAID[taken]}" if built is None else SAID[taken]
    table = REST_VOLTS.get(taken)
    return BatteryAnswer(
        text=f"{plain(volts)} volts at rest, {said}: {text}",
        source="common practice" if table is None else table.source,
        volts=volts,
        built=taken,
        nominal=nominal,
        percent=percent,
        note=(
            f"For a {nominal} volt battery, off the charger and with nothing on for some hours, "
            "near 25 degrees celsius; the maker's table wins. Each type has its own charger and "
            "setting. Charging lead acid gives off explosive gas: air, no sparks, eyes and skin "
            "covered."
        ),
    )


def _judged(volts: Decimal, built: BatteryType, nominal: int) -> tuple[Decimal | None, str]:
    table = REST_VOLTS.get(built)
    if table is None:
        return None, "not known. Its volts hardly change with its charge: go by its own gauge."
    if nominal == 12 and SIX_VOLT[0] <= volts <= SIX_VOLT[1]:
        return None, "that is a 6 volt battery, or a 12 volt one that is ruined."
    if volts < DEAD_BELOW:
        return None, "far below flat. A cell is likely dead; load test it after charging."
    if volts > table.settled_up_to:
        return None, "no resting battery reads that. Charger off, wait some hours, measure again."
    percent = _percent(volts, table)
    said = plain(to_step(percent, 5))
    if percent <= 0:
        return percent, "flat. Charge it now."
    if percent < CHARGE_BELOW:
        return percent, f"about {said} percent. Charge it before it stands."
    return percent, f"about {said} percent charged."


def _percent(volts: Decimal, table: RestVolts) -> Decimal:
    if volts <= table.rows[0][0]:
        return Decimal(table.rows[0][1])
    for (low, from_), (high, to) in pairwise(table.rows):
        if volts <= high:
            return from_ + (to - from_) * (volts - low) / (high - low)
    return Decimal(table.rows[-1][1])
