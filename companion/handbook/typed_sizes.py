"""Typed questions about amounts: conversion, mix, displacement and compression ratio."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal

from companion.handbook.answer import HandbookAnswer
from companion.handbook.convert import convert_quantity
from companion.handbook.displacement import compression_ratio, displacement_of
from companion.handbook.mix import mix_for
from companion.handbook.typed import Misread, number_and_unit, only_number, quantity
from companion.handbook.units import OunceSystem, find_unit


def convert(words: Sequence[str], ounce: OunceSystem) -> HandbookAnswer:
    """Read "30 thou to mm", "3/8 in in mm"."""
    value, rest = quantity(words)
    between = next((i for i, word in enumerate(rest) if word.lower() in ("to", "in", "into")), None)
    # "in" may also be the inch that is converted: "3/8 in to mm".
    if between == 0 and rest[0].lower() == "in":
        between = 1 if len(rest) > 1 and rest[1].lower() in ("to", "in", "into") else None
    if between is None:
        if len(rest) != 2:
            raise Misread
        have, want = rest[0], rest[1]
    else:
        have, want = " ".join(rest[:between]), " ".join(rest[between + 1 :])
    if not have or not want:
        raise Misread
    return convert_quantity(value, find_unit(have).name, find_unit(want).name, ounce=ounce)


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


def _pair(text: str, between: str) -> tuple[Decimal, str, Decimal, str]:
    """Two numbers with the unit after the second, or after both."""
    parts = re.split(between, text)
    if len(parts) != 2 or not all(parts):
        raise Misread
    second, unit = number_and_unit(parts[1])
    first, rest = quantity(parts[0].split())
    return first, find_unit(" ".join(rest)).name if rest else unit, second, unit
