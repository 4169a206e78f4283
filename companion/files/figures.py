"""Figures and times that something may hold: those of a shop, not those that fill a memory.

A decimal with a billion places is a few letters long in a file, and a gigabyte once it is written
out or reckoned with; a time in the year 9999 cannot be told in another zone.
"""

from __future__ import annotations

import math
from datetime import datetime
from decimal import Decimal, InvalidOperation

from companion.files.limits import (
    LARGEST_COUNT,
    LARGEST_EXPONENT,
    LARGEST_WHOLE,
    LONGEST_FIGURE,
    LONGEST_NUMBER,
    MOST_DIGITS,
    YEARS,
)

BEYOND = "a figure beyond all measure"
"""Says what is wrong with such a figure; completes "holds …" and "is …"."""

NO_MEASURE = (
    f"is a number that no measure has; write one of at most {LARGEST_EXPONENT} digits before the "
    "point and after it"
)
"""The same for whoever wrote it into a card or sheet; completes "'low' …"."""


def within_measure(value: Decimal) -> Decimal:
    """Return a figure unchanged if it is a possible one.

    Raises:
        ValueError: If it is none that a bench could have; the message completes "it …".
    """
    if value.is_finite():
        exponent = value.as_tuple().exponent
        digits = len(value.as_tuple().digits)
        assert isinstance(exponent, int)
        if (
            digits <= LONGEST_FIGURE
            and -LONGEST_FIGURE <= exponent <= LARGEST_EXPONENT
            and value.adjusted() <= LARGEST_EXPONENT
        ):
            return value
    raise ValueError(f"is {BEYOND}")


def within_count(number: int) -> int:
    """Return a count of a card or sheet unchanged if it is a possible one.

    Raises:
        ValueError: If no shop counts so far; the message completes "it …".
    """
    if abs(number) <= LARGEST_COUNT:
        return number
    raise ValueError(f"is {BEYOND}")


def figure_of(text: str) -> Decimal:
    """Return the decimal that a text is, exactly.

    Returns:
        Infinity where it is one that no decimal can hold, or nothing where it is too small.

    Raises:
        ValueError: If it is none.
    """
    try:
        return Decimal(text)
    except InvalidOperation:
        # "1e99999999999999999999" is well written, and beyond what decimals reach.
        return Decimal("Infinity") if float(text) else Decimal(0)


def whole_of(text: str) -> int:
    """Return the whole number that a text of digits is.

    Raises:
        ValueError: If it is one that no counter reaches.
    """
    if len(text) <= LONGEST_NUMBER and -LARGEST_WHOLE <= (number := int(text)) <= LARGEST_WHOLE:
        return number
    raise ValueError(f"holds {BEYOND}")


def float_of(text: str) -> float:
    """Return the binary figure that a text is.

    Raises:
        ValueError: If it has none: it is infinite.
    """
    number = float(text)
    if math.isfinite(number):
        return number
    raise ValueError(f"holds {BEYOND}")


def on_a_clock(at: datetime) -> datetime:
    """Return a time unchanged if it is a possible one.

    Raises:
        ValueError: If no shop's clock shows it, or it has no offset from UTC.
    """
    if at.tzinfo is None:
        raise ValueError("is a time without its offset from UTC")
    if at.year not in YEARS:
        raise ValueError("is a time that is on no shop's clock")
    return at


def number_fault(value: int | Decimal) -> str | None:
    """Say what is wrong with a number that a person wrote for a measure of the trade, which is held
    narrower than what a log may hold; None where nothing is."""
    if isinstance(value, int):
        return None if abs(value) < 10 ** (LARGEST_EXPONENT + 1) else NO_MEASURE
    if not value.is_finite():
        return "must be a finite number"
    if abs(value.adjusted()) > LARGEST_EXPONENT or len(value.as_tuple().digits) > MOST_DIGITS:
        return NO_MEASURE
    return None
