"""Speeds of a belt drive: the driven pulley and the belt."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from companion.handbook.answer import HandbookAnswer, NotInHandbook
from companion.handbook.convert import plain
from companion.handbook.rounding import PI, to_digits
from companion.handbook.units import UnitsDoNotFit, convert, dimension, spoken

SMALLEST, LARGEST = Decimal("0.25"), Decimal(60)
"""Pulleys on outdoor power equipment, in inches; outside these a figure was likely misheard."""

FASTEST = Decimal(30_000)
"""Shaft speeds above this, in rpm, are no belt drive's."""

RIM_LIMIT = Decimal(6500)
"""Feet a minute above which a cast pulley needs balancing and its maker's word.

Source: V-belt drive tables of machinery handbooks, from memory.
"""


@dataclass(frozen=True, slots=True)
class PulleyAnswer(HandbookAnswer):
    """A belt drive.

    Attributes:
        driver: Diameter of the driving pulley, in ``unit``.
        driven: Diameter of the driven pulley, in ``unit``.
        unit: A unit of length.
        rpm: Of the driving pulley.
        driven_rpm: Of the driven pulley, without slip, unrounded.
        feet_per_minute: Speed of the belt, unrounded.
        meters_per_second: The same.
        fast: Whether the belt runs above ``RIM_LIMIT``.
    """

    driver: Decimal
    driven: Decimal
    unit: str
    rpm: Decimal
    driven_rpm: Decimal
    feet_per_minute: Decimal
    meters_per_second: Decimal
    fast: bool


def pulley_speeds(driver: Decimal, driven: Decimal, unit: str, rpm: Decimal) -> PulleyAnswer:
    """Work out how fast the driven pulley turns and the belt runs.

    Source: one belt, one speed: π·d·n is the same on both pulleys.

    Args:
        driver: Pitch diameter of the driving pulley, in ``unit``.
        driven: Pitch diameter of the driven pulley, in ``unit``.
        unit: A unit of length.
        rpm: Of the driving pulley.

    Raises:
        UnknownUnit: On an unknown unit.
        UnitsDoNotFit: If the unit is none of length.
        NotInHandbook: If a pulley or a speed is of no belt drive.
    """
    if dimension(unit) != "length":
        raise UnitsDoNotFit(f"A pulley is measured in inches or millimeters, not in {unit}.")
    for size in (driver, driven):
        if not (size.is_finite() and SMALLEST <= convert(size, unit, "inch") <= LARGEST):
            raise NotInHandbook(
                f"A pulley of {plain(size)} {spoken(unit, plural=True)} is none the handbook "
                f"knows; it takes {plain(SMALLEST)} to {plain(LARGEST)} inches."
            )
    if not (rpm.is_finite() and 0 < rpm <= FASTEST):
        raise NotInHandbook(
            f"A pulley turns faster than 0 and at most {plain(FASTEST)} rpm, not {plain(rpm)}."
        )
    driven_rpm = rpm * driver / driven
    if driven_rpm > FASTEST:
        raise NotInHandbook(
            f"The driven pulley would turn at {plain(to_digits(driven_rpm, 3))} rpm; check both "
            "diameters."
        )
    inches = PI * convert(driver, unit, "inch") * rpm
    feet_per_minute = inches / 12
    fast = feet_per_minute > RIM_LIMIT
    text = (
        f"{plain(driver)} to {plain(driven)} {spoken(unit, plural=True)} at {plain(rpm)}: "
        f"about {plain(to_digits(driven_rpm, 3))} rpm, "
        f"belt {plain(to_digits(feet_per_minute, 2))} feet per minute"
    )
    text += ", too fast." if fast else "."
    return PulleyAnswer(
        text=text,
        source="speed times diameter is the same on both pulleys; slip left out",
        driver=driver,
        driven=driven,
        unit=unit,
        rpm=rpm,
        driven_rpm=driven_rpm,
        feet_per_minute=feet_per_minute,
        meters_per_second=inches * Decimal("0.0254") / 60,
        fast=fast,
        note=(
            f"Above {plain(RIM_LIMIT)} feet per minute a cast pulley may burst. "
            "Measure where the belt rides, not over the rims. A V-belt slips 1 to 2 percent "
            "(common practice). The maker's pulleys and speeds win."
        ),
    )
