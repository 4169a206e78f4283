"""Typed questions about speeds: pulleys, blade tips and generators."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal

from companion.handbook.answer import HandbookAnswer
from companion.handbook.frequency import frequency_at
from companion.handbook.pulley import pulley_speeds
from companion.handbook.tip_speed import tip_speed
from companion.handbook.typed import Misread, number, number_and_unit, quantity
from companion.handbook.unit_table import OunceSystem
from companion.handbook.units import UnitsDoNotFit, find_unit


def pulley(words: Sequence[str], ounce: OunceSystem) -> HandbookAnswer:
    """Read "3 to 9 inches at 3600", "3 inches to 9 inches at 3600 rpm"."""
    sizes, rpm = _at_speed(words)
    parts = re.split(r"\s+to\s+", sizes)
    if len(parts) != 2:
        raise Misread
    driven, unit = number_and_unit(parts[1])
    driver, rest = quantity(parts[0].split())
    if rest and find_unit(" ".join(rest)).name != unit:
        raise Misread
    return pulley_speeds(driver, driven, unit, rpm)


def blade(words: Sequence[str], ounce: OunceSystem) -> HandbookAnswer:
    """Read "21 inches at 3100", "21 inches at 3500 governed 3100"."""
    text, governed = " ".join(words).lower(), None
    if stated := re.fullmatch(r"(.+?),? governed (?:at )?(.+)", text):
        text, governed = stated[1], _speed(stated[2])
    size, rpm = _at_speed([text])
    length, unit = number_and_unit(re.sub("^for ", "", size))
    return tip_speed(length, unit, rpm, governed)


def generator(words: Sequence[str], ounce: OunceSystem) -> HandbookAnswer:
    """Read "3600", "1800 rpm 4 poles", "3700 60 hertz"."""
    text = re.sub("^at ", "", " ".join(words).lower())
    poles, nominal = 2, None
    for _ in range(2):
        if counted := re.fullmatch(r"(.+?),? (?:on |with )?(\d{1,3}) poles?", text, re.ASCII):
            text, poles = counted[1], int(counted[2])
        if meant := re.fullmatch(r"(.+?),? (?:for )?(\d{1,3}) ?(?:hertz|hz)", text, re.ASCII):
            text, nominal = meant[1], int(meant[2])
    return frequency_at(_speed(text), poles, nominal)


def _at_speed(words: Sequence[str]) -> tuple[str, Decimal]:
    """What stands before "at", and the speed after it."""
    parts = re.split(r"\s+at\s+", " ".join(words).lower())
    if len(parts) != 2:
        raise Misread
    return parts[0], _speed(parts[1])


def _speed(text: str) -> Decimal:
    words = text.split()
    if len(words) == 1 and re.fullmatch(r"[-+\d.]+", words[0], re.ASCII):
        return number(words[0])
    value, unit = number_and_unit(text)
    if unit != "rpm":
        raise UnitsDoNotFit(f"A shaft's speed is in rpm, not in {unit}.")
    return value
