"""Frequency of a generator that runs at engine speed."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from companion.handbook.answer import HandbookAnswer, NotInHandbook
from companion.handbook.convert import plain
from companion.handbook.rounding import to_step

NOMINALS = (50, 60)
"""Mains frequencies of the world, in hertz: IEC 60038, standard voltages, from memory."""

UNLOADED = (1, 3)
LOADED = (-2, 1)
"""Hertz above the nominal frequency that portable sets are governed to (common practice).

A mechanical governor droops: set about 62 with no load, a 60 hertz set holds 58 or more at full
load. ISO 8528-5 allows a droop of 8 % in performance class G1 and 5 % in G2 (from memory).
"""

FASTEST = Decimal(10_000)
"""Alternators driven faster than this, in rpm, are no portable set's."""

POLES = (2, 4, 6, 8)
"""Numbers of poles of small alternators."""

Verdict = Literal["low", "loaded", "unloaded", "high"]
"""Below both bands, within the one under load or the one with no load, above both."""


@dataclass(frozen=True, slots=True)
class FrequencyAnswer(HandbookAnswer):
    """A generator's frequency.

    Attributes:
        rpm: Of the alternator.
        poles: Of the alternator.
        hertz: Unrounded.
        nominal: The mains frequency that the machine is for, or None where nobody said it.
        verdict: Against ``nominal``; None where that is.
        unloaded: Usual lowest and highest with no load, in hertz; None where ``nominal`` is.
        loaded: Usual lowest and highest under load, in hertz; None where ``nominal`` is.
        nominal_rpm: Speed at which these poles give ``nominal``; None where ``nominal`` is.
    """

    rpm: Decimal
    poles: int
    hertz: Decimal
    nominal: int | None
    verdict: Verdict | None
    unloaded: tuple[int, int] | None
    loaded: tuple[int, int] | None
    nominal_rpm: int | None


def frequency_at(rpm: Decimal, poles: int = 2, nominal: int | None = None) -> FrequencyAnswer:
    """Work out n·poles/120, and judge it by what is usual with and without load.

    Args:
        rpm: Of the alternator; of the engine where it is coupled directly.
        poles: Of the alternator, an even number; two on most portable sets.
        nominal: What the machine is for, 50 or 60 hertz; judged against both where nobody knows.

    Raises:
        NotInHandbook: If the speed, the number of poles or the nominal frequency is of no small
            alternator.
    """
    if poles not in POLES:
        raise NotInHandbook(f"A small alternator has 2, 4, 6 or 8 poles, not {poles}.")
    if nominal is not None and nominal not in NOMINALS:
        raise NotInHandbook(f"Mains have 50 or 60 hertz, not {nominal}.")
    if not (rpm.is_finite() and 0 < rpm <= FASTEST):
        raise NotInHandbook(
            f"A generator turns faster than 0 and at most {plain(FASTEST)} rpm, not {plain(rpm)}."
        )
    hertz = rpm * poles / 120
    said = f"{plain(rpm)} on {poles} poles: {plain(to_step(hertz, '0.1'))} hertz"
    verdict = None if nominal is None else judged(hertz, nominal)
    if nominal is None:
        text = f"{said}, {' and '.join(f'{_AGAINST[judged(hertz, n)]} {n}' for n in NOMINALS)}."
    else:
        text = f"{said}, {_wanted(judged(hertz, nominal), nominal)}"
    return FrequencyAnswer(
        text=text,
        source="speed times poles over 120; nominal by IEC 60038; usual bands are common practice",
        rpm=rpm,
        poles=poles,
        hertz=hertz,
        nominal=nominal,
        verdict=verdict,
        unloaded=None if nominal is None else _band(nominal, UNLOADED),
        loaded=None if nominal is None else _band(nominal, LOADED),
        nominal_rpm=None if nominal is None else nominal * 120 // poles,
        note=(
            f"Usual: {'; '.join(_bands(each) for each in (nominal and (nominal,)) or NOMINALS)}. "
            "The maker's speed wins. On an inverter set the frequency does not follow the engine. "
            "Run it outdoors; work on the wiring of a house is for a licensed electrician."
        ),
    )


def judged(hertz: Decimal, nominal: int) -> Verdict:
    """Say in which band of a nominal frequency this one is; the end between both is of both."""
    if hertz < nominal + LOADED[0]:
        return "low"
    if hertz <= nominal + LOADED[1]:
        return "loaded"
    return "unloaded" if hertz <= nominal + UNLOADED[1] else "high"


_AGAINST = {
    "low": "low for",
    "loaded": "usual under load for",
    "unloaded": "usual with no load for",
    "high": "high for",
}


def _wanted(verdict: Verdict, nominal: int) -> str:
    """The verdict, and of what is not usual the nearer band."""
    match verdict:
        case "low":
            low, high = _band(nominal, LOADED)
            return f"low for {nominal}. Under load {low} to {high}."
        case "high":
            low, high = _band(nominal, UNLOADED)
            return f"high for {nominal}. With no load {low} to {high}."
        case "loaded":
            return f"usual for {nominal} under load."
        case "unloaded":
            return f"usual for {nominal} with no load."


def _band(nominal: int, beyond: tuple[int, int]) -> tuple[int, int]:
    return nominal + beyond[0], nominal + beyond[1]


def _bands(nominal: int) -> str:
    loaded, unloaded = _band(nominal, LOADED), _band(nominal, UNLOADED)
    return (
        f"of {nominal} hertz sets {loaded[0]} to {loaded[1]} under load, "
        f"{unloaded[0]} to {unloaded[1]} with none"
    )
