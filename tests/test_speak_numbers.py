"""Numbers as they are read back: whatever is said means the number it was said for."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from companion.intent.numbers import number_values
from companion.speak.numbers import (
    PARTS_OF_AN_INCH,
    about_duration_words,
    amount_words,
    digit_words,
    duration_words,
    fraction_words,
    number_words,
    read_back,
    read_back_duration,
    read_back_number,
    sounds_alike,
)

CALLABLE = st.decimals("0", "9999", allow_nan=False, places=None).map(lambda value: round(value, 3))


@pytest.mark.parametrize(
    ("value", "unit", "said"),
    [
        ("30", "thou", "thirty, three zero, thou"),
        ("31", "thou", "thirty one thou"),
        ("15", "psi", "fifteen, one five, p s i"),
        ("120", "psi", "one hundred twenty p s i"),
        ("115", "psi", "one hundred fifteen, one one five, p s i"),
        ("105", "psi", "one hundred five p s i"),
        ("3600", "rpm", "thirty six hundred r p m"),
        ("3650", "rpm", "three thousand six hundred fifty, three six five zero, r p m"),
        ("3000", "rpm", "three thousand r p m"),
        ("12.6", "volt", "twelve point six volts"),
        ("13.2", "volt", "thirteen point two, one three point two, volts"),
        ("0.030", "inch", "zero point zero three zero inches"),
        ("0.375", "inch", "three eighths inch"),
        ("0.5", "inch", "one half inch"),
        ("0.500", "inch", "zero point five zero zero inches"),
        ("5.375", "inch", "five and three eighths inches"),
        ("0.3", "inch", "zero point three inches"),
        ("1", "ounce", "one ounce"),
        ("0.5", "liter", "zero point five liters"),
        ("-5", "celsius", "minus five degrees celsius"),
        ("-15", "celsius", "minus fifteen, minus one five, degrees celsius"),
        ("1", "inch", "one inch"),
        ("16", "foot pound", "sixteen, one six, foot pounds"),
    ],
)
def test_quantities_read_back(value: str, unit: str, said: str) -> None:
    assert read_back(Decimal(value), unit) == said


def test_whole_numbers_against_num2words() -> None:
    """Outside check: num2words. Round hundreds above a thousand are said as hundreds here."""
    for number in range(10_000):
        words = number_words(Decimal(number))
        if number > 999 and number % 100 == 0 and number % 1000:
            outside = f"{num2words(number // 100)} hundred"
        else:
            outside = num2words(number).replace(" and ", " ").replace(",", "")
        assert words == outside.replace("-", " ")


@given(value=CALLABLE)
def test_what_is_read_back_parses_to_the_same_number(value: Decimal) -> None:
    for form in read_back_number(value).split(", "):
        assert number_values(form.split()) == (value,)


@given(value=st.integers(1, 99_999))
def test_negative_numbers_read_back_too(value: int) -> None:
    words = number_words(Decimal(-value))
    assert words.startswith("minus ")
    assert number_values(words.split()) == (Decimal(-value),)


FRACTIONS = [
    Decimal(whole) + Decimal(part) / parts
    for whole in (0, 1, 5, 12)
    for parts in PARTS_OF_AN_INCH
    for part in range(1, parts, 2)
]


@pytest.mark.parametrize("value", FRACTIONS)
def test_parts_of_an_inch_parse_to_the_same_number(value: Decimal) -> None:
    words = fraction_words(value)
    assert words is not None
    # "Twenty five sixty fourths" may also mean 20 5/64; the most usual meaning comes first.
    assert number_values(words.split())[0] == value


@pytest.mark.parametrize("value", ["3", "0.3", "0.33", "-0.5", "0.50", "0.0078125"])
def test_what_no_rule_is_marked_in_is_no_fraction(value: str) -> None:
    assert fraction_words(Decimal(value)) is None


@pytest.mark.parametrize(
    ("words", "alike"),
    [
        ("thirty", True),
        ("thirteen", True),
        ("ninety", True),
        ("thirty one", False),
        ("twenty", False),
        ("twelve", False),
        ("one hundred thirty", True),
        ("sixteen hundred", True),
        ("thirty six hundred", False),
        ("thirteen point two", True),
    ],
)
def test_numbers_that_sound_like_another(words: str, alike: bool) -> None:
    assert sounds_alike(words) is alike


@given(value=st.integers(0, 9999))
def test_no_teen_and_no_tens_is_said_without_its_digits(value: int) -> None:
    said = read_back_number(Decimal(value))
    if any(value % 100 == number for number in (*range(13, 20), *range(30, 100, 10))):
        assert said.endswith(", " + digit_words(Decimal(value)))


@pytest.mark.parametrize(
    ("seconds", "exact", "about"),
    [
        (0, "zero seconds", "zero seconds"),
        (1, "one second", "one second"),
        (90, "one minute thirty seconds", "one minute thirty seconds"),
        (900, "fifteen minutes", "fifteen minutes"),
        (930, "fifteen minutes thirty seconds", "sixteen minutes"),
        (5400, "one hour thirty minutes", "one hour thirty minutes"),
        (7200, "two hours", "two hours"),
        (7199, "one hour fifty nine minutes fifty nine seconds", "two hours"),
    ],
)
def test_lengths_of_time(seconds: int, exact: str, about: str) -> None:
    assert duration_words(seconds) == exact
    assert about_duration_words(seconds) == about


def test_a_time_that_was_called_is_read_back_with_its_digits() -> None:
    assert read_back_duration(900) == "fifteen, one five, minutes"
    assert read_back_duration(7200) == "two hours"


def test_amounts_that_were_worked_out_have_no_needless_zeros() -> None:
    assert amount_words(Decimal("2.50"), "ounce") == "two point five ounces"
    assert amount_words(Decimal("1E+2"), "milliliter") == "one hundred milliliters"
    assert amount_words(Decimal("1.0"), "ounce") == "one ounce"
    assert amount_words(Decimal("0.1250"), "inch") == "one eighth inch"
