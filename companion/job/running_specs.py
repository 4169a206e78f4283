"""What a spec sheet says of how fast a machine runs: governed speed, mains frequency, poles."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

from companion.handbook.frequency import LOADED, NOMINALS, UNLOADED
from companion.handbook.units import convert, dimension
from companion.job.sheet import SpecReading, SpecSheet

BLADE_SPEED, ENGINE_SPEED = "blade speed", "engine speed"
"""Measures whose upper end is the fastest that the maker lets it turn. Without the blade's own the
engine's is taken: on a walk-behind mower the blade sits on its shaft, and where a belt is between
it is the speed that the governor sets."""

FREQUENCY = re.compile(r"frequency")

_WORDS = {"two": 2, "four": 4, "six": 6, "eight": 8, "fifty": 50, "sixty": 60}
_NUMBER = r"(\d+|" + "|".join(_WORDS) + ")"
_HERTZ = re.compile(rf"\b{_NUMBER}[ -]?(?:hertz|hz)\b", re.IGNORECASE)
_POLES = re.compile(rf"\b{_NUMBER}[ -]?poles?\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Generator:
    """What is known of a generator.

    Attributes:
        nominal: Its mains frequency in hertz, or None.
        poles: Of its alternator, or None.
    """

    nominal: int | None = None
    poles: int | None = None


def governed_speed(sheet: SpecSheet | None) -> Decimal | None:
    """Return the fastest that the maker lets the blade turn, in rpm, or None where nobody knows."""
    for measure in (BLADE_SPEED, ENGINE_SPEED):
        spec = None if sheet is None else _reading(sheet, measure)
        if spec is not None and spec.high is not None and dimension(spec.unit) == "speed":
            return convert(spec.high, spec.unit, "rpm")
    return None


def generator_of(sheet: SpecSheet | None) -> Generator:
    """Return what a sheet says of its generator.

    Its kind, else its notes, name hertz and poles ("60 hertz, two poles"). Where they do not, the
    window of its frequency tells, or of its engine speed with the poles.
    """
    if sheet is None:
        return Generator()
    texts = (sheet.kind, sheet.notes or "")
    poles = _named(_POLES, texts)
    nominal = _named(_HERTZ, texts)
    if nominal not in NOMINALS:
        nominal = _by_frequency(sheet) or _by_speed(sheet, poles)
    return Generator(nominal, poles)


def _named(pattern: re.Pattern[str], texts: tuple[str, ...]) -> int | None:
    for text in texts:
        found = {_WORDS.get(each.lower()) or int(each) for each in pattern.findall(text)}
        if len(found) == 1:
            return found.pop()
    return None


def _by_frequency(sheet: SpecSheet) -> int | None:
    for spec in sheet.reading:
        # Hertz is no unit of every version's readings; what is not known tells nothing.
        if FREQUENCY.search(spec.measure):
            return _nominal_within(spec.low, spec.high)
    return None


def _by_speed(sheet: SpecSheet, poles: int | None) -> int | None:
    spec = _reading(sheet, ENGINE_SPEED)
    if spec is None or poles is None:
        return None
    low, high = (None if end is None else end * poles / 120 for end in (spec.low, spec.high))
    return _nominal_within(low, high)


def _nominal_within(low: Decimal | None, high: Decimal | None) -> int | None:
    """The one nominal frequency whose usual bands hold this window, or None."""
    ends = [end for end in (low, high) if end is not None]
    found = [
        nominal
        for nominal in NOMINALS
        if ends and all(nominal + 2 * LOADED[0] <= end <= nominal + 2 * UNLOADED[1] for end in ends)
    ]
    return found[0] if len(found) == 1 else None


def _reading(sheet: SpecSheet, measure: str) -> SpecReading | None:
    return next((spec for spec in sheet.reading if spec.measure == measure), None)
