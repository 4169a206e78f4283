"""Spoken number words and every exact value that they can mean.

The forms are those of ``grammars/numbers.gram``. Nothing is rounded and nothing is guessed: where
a form can mean two numbers, both are given, and the caller asks.

Which forms can mean two (found by going through every form of the grammar):

* A fraction after a whole number without "and", where the whole number and the numerator can also
  be taken together: "five three eighths" is 5 3/8, or 53 eighths called digit by digit; "one five
  sixteenths" is 1 5/16 or 15/16; "twenty five sixteenths" is 20 5/16 or 25 sixteenths; "twenty
  five thirty seconds" is 25/32 or 20 5/32; "one two five thirty seconds" is 1 25/32 or 12 5/32.
* With "and" it is one number: "twenty and five sixteenths". So are "one hundred and three eighths"
  (nobody counts 103 eighths aloud, so a numerator stays below one hundred) and "twelve three
  eighths" ("twelve three" is no number).
* Whole numbers and decimals have one meaning each: "one twenty" is 120, "fourteen fifty" is 1450,
  "point thirty" is 0.30. Fractions are called in lowest terms: an even numerator is never meant.
* "Seven thirty seconds" is 7/32 here; as a duration "seconds" is the unit and stands outside the
  number, which is then 730.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from decimal import Decimal

_Form = Callable[[tuple[str, ...]], int | None]

DIGITS = {
    "one": 1, "two": 2, "three": 3, "four": 4, "five": 5,
    "six": 6, "seven": 7, "eight": 8, "nine": 9,
}  # fmt: skip
ZEROS = ("zero", "oh")
TEENS = {
    "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15,
    "sixteen": 16, "seventeen": 17, "eighteen": 18, "nineteen": 19,
}  # fmt: skip
TENS = {
    "twenty": 20, "thirty": 30, "forty": 40, "fifty": 50,
    "sixty": 60, "seventy": 70, "eighty": 80, "ninety": 90,
}  # fmt: skip
SIGNS = ("minus", "negative")
ARTICLES = ("a", "an")

DENOMINATORS: dict[tuple[str, ...], int] = {
    ("half",): 2,
    ("quarter",): 4,
    ("quarters",): 4,
    ("eighth",): 8,
    ("eighths",): 8,
    ("sixteenth",): 16,
    ("sixteenths",): 16,
    ("thirty", "second"): 32,
    ("thirty", "seconds"): 32,
    ("sixty", "fourth"): 64,
    ("sixty", "fourths"): 64,
}
"""The parts of an inch that rules and drills are marked in; each is an exact decimal."""

NUMBER_WORDS = frozenset(
    {*DIGITS, *ZEROS, *TEENS, *TENS, *SIGNS, "hundred", "thousand", "point"}
    | {word for words in DENOMINATORS for word in words if word not in ("second", "seconds")}
)
"""Words that carry a value: never matched by likeness. "A", "and" and "seconds" have other uses."""


def number_values(words: Sequence[str]) -> tuple[Decimal, ...]:
    """Find every exact value that number words can mean.

    Args:
        words: Lower-case words, as ``grammars/numbers.gram`` admits them.

    Returns:
        The values, the most usual first; more than one when the form is ambiguous, none when it
        is no number. Zeros are kept as spoken ("point oh three oh" is ``Decimal("0.030")``).
    """
    spoken = tuple(words)
    if spoken and spoken[0] in SIGNS:
        values = _unsigned(spoken[1:], fractions=False)
        return tuple(-value if value else value for value in values)
    return _unsigned(spoken, fractions=True)


def _unsigned(words: tuple[str, ...], *, fractions: bool) -> tuple[Decimal, ...]:
    if not words:
        return ()
    if words in (("zero",), ("oh",)):
        return (Decimal(0),)
    if "point" in words:
        value = _decimal(words)
        return () if value is None else (value,)
    whole = _counting(words)
    if whole is not None:
        return (Decimal(whole),)
    return _fraction(words) if fractions else ()


def _decimal(words: tuple[str, ...]) -> Decimal | None:
    """ "twelve point six", "point oh three oh", "point oh thirty"."""
    at = words.index("point")
    before, after = words[:at], words[at + 1 :]
    whole = 0 if before in ((), ("zero",), ("oh",)) else _counting(before)
    places = _places(after)
    return None if whole is None or places is None else Decimal(f"{whole}.{places}")


def _places(words: tuple[str, ...]) -> str | None:
    """Digits after the point, as they are written."""
    if not words:
        return None
    digits = [_digit(word) for word in words]
    if all(digit is not None for digit in digits):
        return "".join(str(digit) for digit in digits)
    lead = words[0] in ZEROS
    value = _two_digits(words[1:] if lead else words)
    return None if value is None else ("0" if lead else "") + str(value)


def _digit(word: str) -> int | None:
    return 0 if word in ZEROS else DIGITS.get(word)


def _two_digits(words: tuple[str, ...]) -> int | None:
    """10 to 99."""
    match words:
        case (word,):
            return TEENS.get(word, TENS.get(word))
        case (tens, ones) if tens in TENS and ones in DIGITS:
            return TENS[tens] + DIGITS[ones]
    return None


def _below_hundred(words: tuple[str, ...]) -> int | None:
    """1 to 99."""
    return DIGITS[words[0]] if len(words) == 1 and words[0] in DIGITS else _two_digits(words)


def _counting(words: tuple[str, ...]) -> int | None:
    """Whole number from 1; every form has one meaning, so the first that fits is it."""
    for form in (_below_hundred, _digit_by_digit, _paired, _hundreds, _thousands):
        value = form(words)
        if value is not None:
            return value
    return None


def _digit_by_digit(words: tuple[str, ...]) -> int | None:
    """ "three zero", "one two five"."""
    digits = [_digit(word) for word in words]
    if len(digits) < 2 or not digits[0] or any(digit is None for digit in digits):
        return None
    return int("".join(str(digit) for digit in digits))


def _paired(words: tuple[str, ...]) -> int | None:
    """ "one twenty", "one oh five", "fourteen fifty"."""
    for at in range(1, len(words)):
        first, rest = _below_hundred(words[:at]), words[at:]
        if first is None:
            continue
        if len(rest) == 2 and rest[0] == "oh" and rest[1] in DIGITS:
            return first * 100 + DIGITS[rest[1]]
        second = _two_digits(rest)
        if second is not None:
            return first * 100 + second
    return None


def _hundreds(words: tuple[str, ...]) -> int | None:
    """ "a hundred", "thirty six hundred", "one hundred and five"."""
    return _multiple(words, "hundred", 100, _below_hundred)


def _thousands(words: tuple[str, ...]) -> int | None:
    """ "three thousand", "three thousand and six", "three thousand six hundred and fifty"."""

    def below_thousand(rest: tuple[str, ...]) -> int | None:
        value = _below_hundred(rest)
        return _hundreds(rest) if value is None and rest[0] in DIGITS else value

    return _multiple(words, "thousand", 1000, below_thousand)


def _multiple(words: tuple[str, ...], name: str, size: int, remainder: _Form) -> int | None:
    """So many hundreds or thousands, and what is left over."""
    if name not in words:
        return None
    at = words.index(name)
    before, after = words[:at], words[at + 1 :]
    count = 1 if before == ("a",) else _below_hundred(before)
    if count is None:
        return None
    if not after:
        return count * size
    rest = remainder(after[1:] if after[0] == "and" and len(after) > 1 else after)
    # "Twelve hundred three hundred" is no number.
    return None if rest is None or rest >= size else count * size + rest


def _fraction(words: tuple[str, ...]) -> tuple[Decimal, ...]:
    """A fraction of one, with or without a whole number before it."""
    if len(words) > 1 and words[-1] in ARTICLES and words[-2] in ("half", "quarter"):
        words = words[:-1]  # "half a", "half an": the unit follows
    readings: dict[Decimal, int] = {}
    for size in (1, 2):
        denominator = DENOMINATORS.get(words[-size:])
        if denominator is None or len(words) < size:
            continue
        for rank, value in _fractions_of(words[:-size], denominator):
            readings[value] = min(rank, readings.get(value, rank))
    return tuple(sorted(readings, key=lambda value: readings[value]))


def _fractions_of(words: tuple[str, ...], denominator: int) -> Iterator[tuple[int, Decimal]]:
    """Yield values with their rank, 0 the most usual, for the words before a denominator."""
    if denominator in (2, 4) and not words:
        yield 0, Decimal(1) / denominator
        return
    alone = 1 if len(words) == 1 and words[0] in ARTICLES else _numerator(words)
    if alone is not None and (alone < denominator or denominator > 2):
        called_as_digits = len(words) > 1 and words[0] in DIGITS
        rank = 3 if alone > denominator else 2 if called_as_digits else 0
        yield rank, Decimal(alone) / denominator
    for at in range(1, len(words) + 1):
        whole, rest = _counting(words[:at]), words[at:]
        if whole is None or not rest:
            continue
        joined = rest[0] == "and"
        numerator = _joined_numerator(rest[1:], denominator) if joined else _numerator(rest)
        if numerator is not None and numerator < denominator:
            yield 1, whole + Decimal(numerator) / denominator


def _joined_numerator(words: tuple[str, ...], denominator: int) -> int | None:
    """The words between "and" and the denominator: "two and a half", "two and half"."""
    if not words:
        return 1 if denominator in (2, 4) else None
    return 1 if len(words) == 1 and words[0] in ARTICLES else _numerator(words)


def _numerator(words: tuple[str, ...]) -> int | None:
    """An odd number below one hundred."""
    value = _counting(words)
    return value if value is not None and value % 2 and value < 100 else None
