"""Typed questions about what was read: temperature, volts, leak-down and compression."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from typing import get_args

from companion.handbook.answer import HandbookAnswer
from companion.handbook.battery import SAID, BatteryType, charge_at
from companion.handbook.compression import compression_suggests
from companion.handbook.leak_down import Place, leak_down_suggests
from companion.handbook.oil import oil_for
from companion.handbook.typed import Misread, number_and_unit, only_number, quantity
from companion.handbook.unit_table import OunceSystem
from companion.handbook.units import UnitsDoNotFit, find_unit, spoken

_PLACES: dict[str, Place] = {place: place for place in get_args(Place)}


def oil(words: Sequence[str], ounce: OunceSystem) -> HandbookAnswer:
    """Read "-10 C", "20 fahrenheit"."""
    temperature, unit = number_and_unit(re.sub("^(grade )?(for )?", "", " ".join(words).lower()))
    return oil_for(temperature, unit)


def battery(words: Sequence[str], ounce: OunceSystem) -> HandbookAnswer:
    """Read "12.4", "12.4 volts glass mat", "6.2 volts flooded 6 volt"."""
    text = re.sub("^for ", "", " ".join(words).lower())
    nominal = 12
    if named := re.fullmatch(r"(.+?),? (\d{1,2}) volt battery", text, re.ASCII):
        text, nominal = named[1], int(named[2])
    built: BatteryType | None = None
    for each in SAID:
        name = SAID[each]
        if stated := re.fullmatch(
            rf"(.+?),? (?:{each}|absorbed {name}|{name}|{_SHORT[each]})", text
        ):
            text, built = stated[1], each
            break
    return charge_at(_in_unit(text, "volt", "A battery"), built, nominal)


_SHORT = {"flooded lead acid": "wet", "absorbed glass mat": "agm", "gel": "gel", "lithium": "li"}


def leak_down(words: Sequence[str], ounce: OunceSystem) -> HandbookAnswer:
    """Read "25", "25% exhaust", "25 percent at the intake limit 15"."""
    text = " ".join(words).lower()
    limit, heard = None, None
    if bound := re.fullmatch(r"(.+?),? limit (.+)", text):
        text, limit = bound[1], _in_unit(bound[2], "percent", "Leak down")
    if place := re.fullmatch(rf"(.+?)(?: at)?(?: the)? ({'|'.join(_PLACES)})", text):
        text, heard = place[1], _PLACES[place[2]]
    return leak_down_suggests(_in_unit(text, "percent", "Leak down"), heard, limit)


def compression(words: Sequence[str], ounce: OunceSystem) -> HandbookAnswer:
    """Read "60 psi", "dry 60 wet 95 psi", "60 wet 95 psi least 90 most 140"."""
    text = re.sub("^dry ", "", " ".join(words).lower())
    least = most = wet = None
    if bound := re.fullmatch(r"(.+?),? most (\S+)", text):
        text, most = bound[1], only_number(bound[2])
    if bound := re.fullmatch(r"(.+?),? least (\S+)", text):
        text, least = bound[1], only_number(bound[2])
    if both := re.fullmatch(r"(.+?),? wet (.+)", text):
        text = both[1]
        wet, unit = number_and_unit(both[2])
        dry, rest = quantity(text.split())
        if rest and find_unit(" ".join(rest)).name != unit:
            raise Misread
    else:
        dry, unit = number_and_unit(text)
    return compression_suggests(dry, unit, wet, least, most)


def _in_unit(text: str, unit: str, what: str) -> Decimal:
    """A number in a unit that may be left out."""
    value, rest = quantity(text.split())
    if rest and (given := find_unit(" ".join(rest)).name) != unit:
        raise UnitsDoNotFit(f"{what} is read in {spoken(unit, plural=True)}, not in {given}.")
    return value
