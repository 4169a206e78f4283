"""Frequency of a generator that runs at engine speed."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from companion.handbook.answer import HandbookAnswer, NotInHandbook
from companion.handbook.convert import plain
from companion.handbook.rounding import to_step

NOMINALS = (50, 60)
"""Mains frequencies of the world, in hertz."""

UNLOADED = (1, 3)
LOADED = (-2, 1)
"""Hertz above the nominal frequency that portable sets are governed to (common practice).

A mechanical governor droops: set about 62 with no load, a 60 hertz set holds 58 or more at full
load. ISO 8528-5 allows a droop of 8 % in performance class G1 and 5 % in G2 (from memory).
"""

NEAR = Decimal(5)
"""How far, in hertz, a frequency may be off and still be meant for a nominal one."""

FASTEST = Decimal(10_000)
"""Alternators driven faster than this, in rpm, are no portable set's."""

POLES = (2, 4, 6, 8)
"""Numbers of poles of small alternators."""


@dataclass(frozen=True, slots=True)
class FrequencyAnswer(HandbookAnswer):
    """A generator's frequency.

    Attributes:
        rpm: Of the alternator.
        poles: Of the alternator.
        hertz: Unrounded.
        nominal: The mains frequency meant, or None if it is near neither.
        unloaded: Usual lowest and highest with no load, in hertz; None where ``nominal`` is.
        loaded: Usual lowest and highest under load, in hertz; None where ``nominal`` is.
        nominal_rpm: Speed at which these poles give ``nominal``; None where ``nominal`` is.
    """

    rpm: Decimal
    poles: int
    hertz: Decimal
    nominal: int | None
    unloaded: tuple[int, int] | None
    loaded: tuple[int, int] | None
    nominal_rpm: int | None


def frequency_at(rpm: Decimal, poles: int = 2) -> FrequencyAnswer:
    """Work out n·poles/120, and what is usual with and without load.

    Args:
        rpm: Of the alternator; of the engine where it is coupled directly.
        poles: Of the alternator, an even number; two on most portable sets.

    Raises:
        NotInHandbook: If the speed or the number of poles is of no small alternator.
    """
    if poles not in POLES:
        raise NotInHandbook(f"A small alternator has 2, 4, 6 or 8 poles, not {poles}.")
    if not (rpm.is_finite() and 0 < rpm <= FASTEST):
        raise NotInHandbook(
            f"A generator turns faster than 0 and at most {plain(FASTEST)} rpm, not {plain(rpm)}."
        )
    hertz = rpm * poles / 120
    nominal = next((each for each in NOMINALS if abs(hertz - each) <= NEAR), None)
    said = plain(to_step(hertz, "0.1"))
    text = f"{plain(rpm)} on {poles} poles: {said} hertz. "
    if nominal is None:
        text += "That is near neither 50 nor 60: check speed and poles."
        unloaded = loaded = None
    else:
        unloaded = (nominal + UNLOADED[0], nominal + UNLOADED[1])
        loaded = (nominal + LOADED[0], nominal + LOADED[1])
        text += f"Unloaded {unloaded[0]} to {unloaded[1]}, loaded at least {loaded[0]}."
    return FrequencyAnswer(
        text=text,
        source="speed times poles over 120; the usual bands are common practice",
        rpm=rpm,
        poles=poles,
        hertz=hertz,
        nominal=nominal,
        unloaded=unloaded,
        loaded=loaded,
        nominal_rpm=None if nominal is None else nominal * 120 // poles,
        note=(
            "The maker's speed wins. On an inverter set the frequency does not follow the engine. "
            "Run it outdoors; work on the wiring of a house is for a licensed electrician."
        ),
    )
