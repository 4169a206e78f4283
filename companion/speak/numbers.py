"""Exact numbers as a technician says them, so that what is read back cannot be taken for another.

Forms, always the same ones:

* whole numbers in full, round hundreds as hundreds: "one hundred twenty", "thirty six hundred";
* decimals with their leading zero and every digit: "zero point zero three zero";
* parts of an inch that a rule is marked in as fractions: "three eighths", "five and one half";
* numbers with a word that sounds like another (thirteen, thirty) once more digit by digit:
  "fifteen, one five", as ICAO Doc 9432 has numbers that might be misunderstood.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from companion.handbook.units import clock_parts, spoken, unit_named

DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
TEENS = (
    "ten", "eleven", "twelve", "thirteen", "fourteen",
    "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
)  # fmt: skip
TENS = (
    "", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety",
)  # fmt: skip

SOUND_ALIKE = frozenset((*TEENS[3:], *TENS[3:]))
"""Words of pairs such as thirteen and thirty, which noise makes one of."""

PARTS_OF_AN_INCH = {
    2: "half",
    4: "quarter",
    8: "eighth",
    16: "sixteenth",
    32: "thirty second",
    64: "sixty fourth",
}
"""What rules, drills and wrenches are marked in, by denominator."""


def number_words(value: Decimal) -> str:
    """Say a number: "thirty six hundred", "minus five", "zero point zero three zero".

    Args:
        value: Finite. Zeros after the point are said: they tell how it was called.
    """
    sign = "minus " if value < 0 else ""
    whole, _, places = format(abs(value), "f").partition(".")
    words = sign + _whole_words(int(whole))
    return f"{words} point {_digit_words(places)}" if places else words


def digit_words(value: Decimal) -> str:
    """Say a number digit by digit: "one five", "one three point two"."""
    sign = "minus " if value < 0 else ""
    whole, _, places = format(abs(value), "f").partition(".")
    words = sign + _digit_words(whole)
    return f"{words} point {_digit_words(places)}" if places else words


def fraction_words(value: Decimal) -> str | None:
    """Say a part of an inch, or None where a rule has no mark for it.

    Args:
        value: In inches. A value called with zeros at its end was called as a decimal.
    """
    _, _, places = format(value, "f").partition(".")
    fraction = Fraction(value)
    if value < 0 or not places or places.endswith("0"):
        return None
    name = PARTS_OF_AN_INCH.get(fraction.denominator)
    if name is None:
        return None
    whole, part = divmod(fraction.numerator, fraction.denominator)
    words = f"{_whole_words(part)} {name}" + ("s" if part > 1 else "")
    return f"{_whole_words(whole)} and {words}" if whole else words


def fraction_of(value: Decimal, unit: str) -> str | None:
    """Say a value as the fraction that rules of its unit are marked in, or None.

    Args:
        value: In ``unit``.
        unit: A unit's name.

    Raises:
        ValueError: On an unknown unit.
    """
    return fraction_words(value) if unit_named(unit).fractions else None


def sounds_alike(words: str) -> bool:
    """Whether number words hold one that sounds like another: "thirty", but not "thirty one"."""
    said = words.split()
    followed = [*said[1:], ""]
    return any(
        word in SOUND_ALIKE and after not in DIGITS[1:]
        for word, after in zip(said, followed, strict=True)
    )


def read_back_number(value: Decimal) -> str:
    """Say a number, and once more digit by digit if it sounds like another: "fifteen, one five"."""
    words = number_words(value)
    return f"{words}, {digit_words(value)}" if sounds_alike(words) else words


def read_back_before(value: Decimal, what: str) -> str:
    """Say a number before a word: "thirty one left", "fifteen, one five, left"."""
    words = read_back_number(value)
    return f"{words}, {what}" if "," in words else f"{words} {what}"


def read_back(value: Decimal, unit: str) -> str:
    """Say a quantity as it is read back: "thirty, three zero, thou", "three eighths inch".

    Raises:
        ValueError: On an unknown unit.
    """
    if (fraction := fraction_of(value, unit)) is not None:
        return f"{fraction} {spoken(unit, plural=value > 1)}"
    return read_back_before(value, spoken(unit, plural=abs(value) != 1))


def amount_words(value: Decimal, unit: str) -> str:
    """Say a quantity that was worked out, not called: without the digits that readback adds.

    Raises:
        ValueError: On an unknown unit.
    """
    value = without_needless_zeros(value)
    if (fraction := fraction_of(value, unit)) is not None:
        return f"{fraction} {spoken(unit, plural=value > 1)}"
    return f"{number_words(value)} {spoken(unit, plural=abs(value) != 1)}"


def duration_words(seconds: float) -> str:
    """Say a length of time to the second: "one hour thirty minutes", "zero seconds"."""
    parts = (amount_words(Decimal(count), unit) for count, unit in clock_parts(seconds))
    return " ".join(parts) or "zero seconds"


def read_back_duration(seconds: float) -> str:
    """Say a length of time that was called, digit by digit as well where it could be mistaken."""
    parts = (read_back(Decimal(count), unit) for count, unit in clock_parts(seconds))
    return " ".join(parts) or "zero seconds"


def about_duration_words(seconds: float) -> str:
    """Say how long is left as a person would: no minutes' seconds above two minutes."""
    whole = max(0, round(seconds))
    if whole >= 120:
        return duration_words(round(whole / 60) * 60)
    return duration_words(whole)


def without_needless_zeros(value: Decimal) -> Decimal:
    """The same value as a person would write it: 12.50 is 12.5, 1E+2 is 100."""
    text = format(value, "f")
    return Decimal(text.rstrip("0").rstrip(".") if "." in text else text)


def _whole_words(number: int) -> str:
    if number < 10:
        return DIGITS[number]
    if number < 20:
        return TEENS[number - 10]
    if number < 100:
        tens, ones = divmod(number, 10)
        return TENS[tens] + (f" {DIGITS[ones]}" if ones else "")
    if number < 10_000 and number % 100 == 0 and number % 1000:
        return f"{_whole_words(number // 100)} hundred"
    for size, name in ((1_000_000, "million"), (1_000, "thousand"), (100, "hundred")):
        if number >= size:
            count, rest = divmod(number, size)
            words = f"{_whole_words(count)} {name}"
            return f"{words} {_whole_words(rest)}" if rest else words
    raise AssertionError(number)


def _digit_words(digits: str) -> str:
    return " ".join(DIGITS[int(digit)] for digit in digits)
