"""Typed questions about amounts: conversion, mix, displacement and compression ratio."""

from __future__ import annotations

import re
from collections.abc import Sequence
from contextlib import suppress
from decimal import Decimal

from companion.handbook.answer import HandbookAnswer
from companion.handbook.convert import convert_quantity
from companion.handbook.displacement import compression_ratio, displacement_of
from companion.handbook.mix import mix_for
from companion.handbook.typed import Misread, number_and_unit, only_number, quantity
from companion.handbook.unit_table import OunceSystem, Unit
from companion.handbook.units import UnknownUnit, find_unit, units_that_fit


def convert(words: Sequence[str], ounce: OunceSystem) -> HandbookAnswer:
    """Read "30 thou to mm", "3/8 in in mm"."""
    value, rest = quantity(words)
    have, want = _units_between(rest)
    return convert_quantity(value, have.name, want.name, ounce=ounce)


def mix(words: Sequence[str], ounce: OunceSystem) -> HandbookAnswer:
    """Read "50:1 2 gallons", "50 to 1 for 5 litres"."""
    text = " ".join(words).lower()
    parted = re.fullmatch(r"(\d+(?:\.\d+)?)\s*(?::| to )\s*(?:1|one) (?:for )?(.+)", text)
    if parted is None:
        raise Misread
    fuel, unit = number_and_unit(parted[2])
    return mix_for(only_number(parted[1]), fuel, unit, ounce=ounce)


def displacement(words: Sequence[str], ounce: OunceSystem) -> HandbookAnswer:
    """Read "68 x 54 mm", "2 1/2 by 2 1/4 inches 2 cylinders"."""
    text = " ".join(words).lower().replace("×", "x")
    cylinders = 1
    if counted := re.fullmatch(r"(.+?),? (\d{1,3}) cylinders?", text, re.ASCII):
        text, cylinders = counted[1], int(counted[2])
    bore, unit_of_bore, stroke, unit = _pair(text, r"\s*(?:x|by)\s*")
    if unit_of_bore != unit:
        raise Misread
    return displacement_of(bore, stroke, unit, cylinders)


def ratio(words: Sequence[str], ounce: OunceSystem) -> HandbookAnswer:
    """Read "196 and 26 cc"."""
    text = " ".join(words).lower()
    swept, unit_of_swept, chamber, unit = _pair(text, r"\s+(?:and|with)\s+")
    if unit_of_swept != unit:
        raise Misread
    return compression_ratio(swept, chamber, unit)


def _units_between(words: Sequence[str]) -> tuple[Unit, Unit]:
    """The two units of "thou to mm", "in in mm", "cu in to cc", "inch mm"."""
    typed = [word.lower() for word in words]
    # "in" may itself be the inch that is converted, so "to" goes first.
    places = [i for mark in ("to", "into", "in") for i, word in enumerate(typed) if word == mark]
    ways = [(typed[:i], typed[i + 1 :]) for i in places if 0 < i < len(typed) - 1]
    if len(typed) == 2:
        ways.append((typed[:1], typed[1:]))
    if not ways:
        raise Misread
    for have, want in ways[:-1]:
        with suppress(UnknownUnit):
            return units_that_fit(" ".join(have), " ".join(want))
    have, want = ways[-1]
    return units_that_fit(" ".join(have), " ".join(want))


def _pair(text: str, between: str) -> tuple[Decimal, str, Decimal, str]:
    """Two numbers with the unit after the second, or after both."""
    parts = re.split(between, text)
    if len(parts) != 2 or not all(parts):
        raise Misread
    second, unit = number_and_unit(parts[1])
    first, rest = quantity(parts[0].split())
    return first, find_unit(" ".join(rest)).name if rest else unit, second, unit
