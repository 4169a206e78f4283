"""Figures of a card or sheet as people write them in quotes."""

from __future__ import annotations

import re
import unicodedata
from decimal import Decimal
from fractions import Fraction

from companion.files.limits import LONGEST_FIGURE
from companion.files.quoting import quoted
from companion.handbook.typed import Misread, only_number


def number_as_written(text: str) -> Decimal | None:
    """Return the number that a text is, or None where it is not plainly one.

    A comma before three figures parts thousands, as in typed calls, unless a zero stands before it:
    "0,028" is a fraction, as is "12,5". A fraction must end in decimals: "3/8" and not "1/3".
    """
    if len(text) > LONGEST_FIGURE:
        return None
    spaced = "".join(
        f" {char} " if unicodedata.decomposition(char).startswith("<fraction>") else char
        for char in text
    )
    plain = unicodedata.normalize("NFKC", spaced).replace("⁄", "/").strip()
    plain = re.sub("^[−‒–—]", "-", plain)
    if re.fullmatch(r"[-+]?[1-9]\d{0,2}(,\d{3})+(\.\d+)?", plain, re.ASCII):
        plain = plain.replace(",", "")
    elif re.fullmatch(r"[-+]?\d*,\d+", plain, re.ASCII):
        plain = plain.replace(",", ".")
    plain = re.sub(r"(?<=\d)-(?=\d+/\d)", " ", plain)
    below = re.search(r"/0*(\d{1,9})$", plain, re.ASCII)
    if below is not None and Fraction(1, int(below[1]) or 3).denominator not in _HALVES:
        return None
    try:
        return only_number(plain)
    except Misread:
        return None


_HALVES = frozenset(2**power for power in range(7))
"""Parts of an inch that are called, down to the sixty-fourth."""


def instead_of_number(key: str, text: str) -> str | None:
    """Return what to write in place of a figure with its unit, or of two figures; None where it is
    neither."""
    two = re.fullmatch(r"\s*(-?[\d.,/]+)\s*(?:-|–|\bto\b|\.\.)\s*([\d.,/]+)\s*", text)
    if two is not None:
        low, high = (number_as_written(each) for each in two.groups())
        if low is not None and high is not None:
            ends = quoted(f"{low:f}"), quoted(f"{high:f}")
            return f"two figures stand on two lines, low = {ends[0]} and high = {ends[1]}"
    one = re.fullmatch(r"\s*([-+]?[\d.,/ ]*\d)\s*([^\W\d].*|[\"″%°].*)", text)
    number = number_as_written(one[1]) if one is not None else None
    if one is None or number is None or key == "unit":
        return None
    unit = one[2].strip("\"' ")
    return (
        f"the figure stands alone, {quoted(key)} = {quoted(f'{number:f}')}, and its unit on a line "
        "of its own, "
        f'unit = "{quoted(unit or "inch")}"'
    )
