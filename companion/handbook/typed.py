"""Numbers and quantities read from typed words."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal

from companion.handbook.units import find_unit

MOST_FIGURES = 12
"""Digits before or after the point; a longer number was not typed by anyone on purpose."""


class Misread(ValueError):
    """The words do not have the form that the topic asks for."""


def number(text: str) -> Decimal:
    """Read "30", "-5", ".030" or "3/8".

    Raises:
        Misread: If it is no number.
    """
    if max(map(len, re.findall(r"\d+", text)), default=0) > MOST_FIGURES:
        raise Misread
    if re.fullmatch(r"\d+/\d+", text, re.ASCII):
        top, bottom = text.split("/")
        if int(bottom) == 0:
            raise Misread
        return Decimal(top) / Decimal(bottom)
    if re.fullmatch(r"[-+]?(\d+(\.\d*)?|\.\d+)", text, re.ASCII):
        return Decimal(text)
    raise Misread


def quantity(words: Sequence[str]) -> tuple[Decimal, list[str]]:
    """Read a leading number such as "30", "3/8", "5 3/8" or "30mm".

    Returns:
        The number, and the words after it.

    Raises:
        Misread: If there is none.
    """
    if not words:
        raise Misread
    first, rest = words[0], list(words[1:])
    glued = re.fullmatch(r"([-+]?[\d./]*\d)([^\d./].*)", first)
    if glued:
        first, rest = glued[1], [glued[2], *rest]
    value = number(first)
    if rest and re.fullmatch(r"\d+/\d+", rest[0]) and "/" not in first:
        value += number(rest.pop(0)).copy_sign(value)
    return value, rest


def only_number(text: str) -> Decimal:
    """Read a text that is one number and nothing else, mixed ones too.

    Raises:
        Misread: If it is not.
    """
    value, rest = quantity(text.split())
    if rest:
        raise Misread
    return value


def number_and_unit(text: str) -> tuple[Decimal, str]:
    """Read "21 inches", "12.4 V", "-10 C".

    Returns:
        The number, and the unit's name.

    Raises:
        Misread: If it is not one number with words after it.
        UnknownUnit: If those words are no unit.
    """
    value, rest = quantity(text.split())
    if not rest:
        raise Misread
    return value, find_unit(" ".join(rest)).name
