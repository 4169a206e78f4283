"""How tight a spark plug is, by its thread, its seat and the metal of the head."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from types import MappingProxyType
from typing import Literal

from companion.handbook.answer import HandbookAnswer, NotInHandbook
from companion.handbook.convert import plain
from companion.handbook.rounding import to_step
from companion.handbook.thread import PLUG_THREADS
from companion.handbook.units import from_si

Seat = Literal["gasket", "taper"]
"""Flat with a gasket, or conical with none."""

Head = Literal["aluminum", "cast iron"]

TORQUES: Mapping[tuple[int, Seat, Head], tuple[int, int]] = MappingProxyType(
    {
        (10, "gasket", "aluminum"): (10, 12),
        (10, "gasket", "cast iron"): (10, 15),
        (12, "gasket", "aluminum"): (15, 20),
        (12, "gasket", "cast iron"): (15, 25),
        (14, "gasket", "aluminum"): (25, 30),
        (14, "gasket", "cast iron"): (25, 35),
        (18, "gasket", "aluminum"): (35, 40),
        (18, "gasket", "cast iron"): (35, 45),
        (14, "taper", "aluminum"): (10, 20),
        (14, "taper", "cast iron"): (15, 25),
        (18, "taper", "aluminum"): (20, 30),
        (18, "taper", "cast iron"): (20, 30),
    }
)
"""Newton meters, least and most, by diameter in millimetres, seat and head.

Source: tables of plug catalogs, which stay within the tightening torques of ISO 28741; both from
memory. For a clean dry thread and a new gasket. Tapered seats are made on M14 and M18 only.
"""

TURNS: Mapping[Seat, str] = MappingProxyType(
    {
        "gasket": "half to two thirds of a turn, with a used gasket a twelfth",
        "taper": "a sixteenth of a turn",
    }
)
"""How far after finger tight, where no torque wrench gets in (common practice)."""


@dataclass(frozen=True, slots=True)
class PlugAnswer(HandbookAnswer):
    """A spark plug's usual torque.

    Attributes:
        thread: "M14x1.25".
        seat: ``gasket`` or ``taper``.
        head: Metal of the head.
        newton_meters: Least and most.
        foot_pounds: The same in ft·lbf, unrounded.
    """

    thread: str
    seat: Seat
    head: Head
    newton_meters: tuple[int, int]
    foot_pounds: tuple[Decimal, Decimal]


def plug_torque(
    size: Decimal | Fraction, seat: Seat = "gasket", head: Head = "aluminum"
) -> PlugAnswer:
    """Look up the usual torque of a spark plug.

    Args:
        size: Nominal diameter of its thread, in millimetres.
        seat: How it seals.
        head: Metal of the cylinder head; the weaker where nobody said it.

    Raises:
        NotInHandbook: If no plug has that thread, or that seat on it.
    """
    diameter = Fraction(size)
    pitch = PLUG_THREADS.get(diameter)
    if pitch is None:
        raise NotInHandbook(
            f"No spark plug has a thread of {plain(Decimal(float(diameter)))} millimeters; they "
            "are M10, M12, M14 and M18."
        )
    found = TORQUES.get((int(diameter), seat, head))
    if found is None:
        raise NotInHandbook(f"The handbook has no M{diameter} plug with a {seat} seat.")
    foot_pounds = tuple(from_si(Decimal(each), "foot pound") for each in found)
    low, high = (plain(to_step(each, 1)) for each in foot_pounds)
    return PlugAnswer(
        text=(
            f"M{diameter} plug, {seat} seat, {head}: {found[0]} to {found[1]} newton meters. "
            "The maker's figure wins."
        ),
        source="plug catalogs and ISO 28741, from memory",
        thread=f"M{diameter}x{float(pitch):g}",
        seat=seat,
        head=head,
        newton_meters=found,
        foot_pounds=(foot_pounds[0], foot_pounds[1]),
        note=(
            f"The same as {low} to {high} foot pounds. For a cold head, a clean dry thread and a "
            f"new gasket: oil or anti seize takes about a third less. Start it by hand. "
            f"Without a torque wrench, {TURNS[seat]} after finger tight. "
            "Plug wire grounded away from the hole."
        ),
    )
