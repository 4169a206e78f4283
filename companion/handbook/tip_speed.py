"""How fast the tips of a rotary mower blade run, against the limit for mowers."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_DOWN, ROUND_UP, Decimal

from companion.handbook.answer import HandbookAnswer, NotInHandbook
from companion.handbook.convert import plain, spoken_quantity
from companion.handbook.rounding import PI, down_to_step
from companion.handbook.units import UnitsDoNotFit, convert, dimension

LIMIT = Decimal(19_000)
"""Feet a minute that a blade tip may not pass: ANSI/OPEI B71.1, rotary mowers, from memory."""

SHORTEST, LONGEST = Decimal(4), Decimal(120)
"""Blades and cutting circles of mowers, in inches."""

FASTEST = Decimal(20_000)
"""Spindle speeds above this, in rpm, are no rotary mower's."""

ABSURD = 2
"""From so many times the limit on, length or speed was misheard: no mower's blade withstands
that."""


@dataclass(frozen=True, slots=True)
class TipSpeedAnswer(HandbookAnswer):
    """A blade's tip speed.

    Attributes:
        length: Of the blade from tip to tip, in ``unit``.
        unit: A unit of length.
        rpm: Of the blade.
        feet_per_minute: At the tip, unrounded.
        meters_per_second: The same.
        over: Whether it is above ``LIMIT``.
        limit_rpm: Speed at which this blade reaches the limit, unrounded.
        governed: The fastest that the maker lets it turn, in rpm, or None where nobody said it.
        at_most: The fastest that may be advised, in rpm: the lower of both.
    """

    length: Decimal
    unit: str
    rpm: Decimal
    feet_per_minute: Decimal
    meters_per_second: Decimal
    over: bool
    limit_rpm: Decimal
    governed: Decimal | None
    at_most: Decimal


def tip_speed(
    length: Decimal, unit: str, rpm: Decimal, governed: Decimal | None = None
) -> TipSpeedAnswer:
    """Work out π·d·n and compare it with the limit.

    What is said never rounds a speed to the other side of the limit, nor the speed that may be run
    upwards, and never advises more than the maker's governed speed.

    Args:
        length: Of the blade from tip to tip, in ``unit``.
        unit: A unit of length.
        rpm: Of the blade, not of the engine where a belt is between.
        governed: The maker's top speed of the blade, in rpm.

    Raises:
        UnknownUnit: On an unknown unit.
        UnitsDoNotFit: If the unit is none of length.
        NotInHandbook: If the blade, the speed or both together are of no mower.
    """
    if dimension(unit) != "length":
        raise UnitsDoNotFit(f"A blade is measured in inches or millimeters, not in {unit}.")
    inches = convert(length, unit, "inch") if length.is_finite() else length
    if not (inches.is_finite() and SHORTEST <= inches <= LONGEST):
        raise NotInHandbook(
            f"No mower blade measures that; the handbook takes {plain(SHORTEST)} to "
            f"{plain(LONGEST)} inches from tip to tip."
        )
    for speed in (rpm, *(() if governed is None else (governed,))):
        if not (speed.is_finite() and 0 < speed <= FASTEST):
            raise NotInHandbook(
                f"A blade turns faster than 0 and at most {plain(FASTEST)} rpm, not {plain(speed)}."
            )
    feet_per_revolution = PI * inches / 12
    speed = feet_per_revolution * rpm
    if speed > ABSURD * LIMIT:
        raise NotInHandbook(
            f"{spoken_quantity(length, unit)} at {plain(rpm)} rpm would be over twice the limit; "
            "check length and speed."
        )
    limit_rpm = LIMIT / feet_per_revolution
    over = speed > LIMIT
    at_most = limit_rpm if governed is None else min(limit_rpm, governed)
    said = _hundreds(speed, over=over)
    fast = over or (governed is not None and rpm > governed)
    text = f"{plain(rpm)}: {said} feet per minute, "
    text += (
        f"too fast. {_at_most(limit_rpm, governed)}"
        if fast
        else f"within the limit of {plain(LIMIT)}."
    )
    if not fast:
        text = f"{spoken_quantity(length, unit)} at {text}"
    return TipSpeedAnswer(
        text=text,
        source="ANSI/OPEI B71.1, limit for rotary mower blades, from memory",
        length=length,
        unit=unit,
        rpm=rpm,
        feet_per_minute=speed,
        meters_per_second=speed * Decimal("0.3048") / 60,
        over=over,
        limit_rpm=limit_rpm,
        governed=governed,
        at_most=at_most,
        note=(
            f"This blade reaches {plain(LIMIT)} feet per minute at "
            f"{plain(down_to_step(limit_rpm, 10))} rpm, which is no speed to set: the maker's "
            "governed speed is. The limit is for mowers; a chipper, a "
            "trimmer or a saw has its own. The maker's engine speed and blade win. Measure the "
            "speed with a tachometer, standing clear of the discharge."
        ),
    )


def _at_most(limit_rpm: Decimal, governed: Decimal | None) -> str:
    """The fastest to run; where nobody knows how fast the maker governs it, no figure."""
    if governed is None:
        return "Keep to the maker's speed."
    if governed <= limit_rpm:
        return f"At most the maker's {plain(governed)}."
    return f"At most {plain(down_to_step(limit_rpm, 100))}."


def _hundreds(speed: Decimal, *, over: bool) -> str:
    """The speed to the hundred below or, over the limit, above: never on the limit's other side."""
    how = ROUND_UP if over else ROUND_DOWN
    hundreds = (speed / 100).to_integral_value(how) * 100
    # Small speeds keep their two digits.
    return plain(hundreds) if hundreds >= 1000 else plain(speed.to_integral_value())
