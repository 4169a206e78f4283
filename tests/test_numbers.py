"""Spoken numbers: each form, what it means, and which forms may mean two."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from companion.intent.numbers import number_values
from companion.intent.text import number_words


def values(text: str) -> list[str]:
    return [format(value, "f") for value in number_values(text.split())]


def said_by_num2words(number: int | Decimal) -> list[str]:
    """In the words of the num2words package, without its commas and hyphens."""
    return re.sub("[,-]", " ", num2words(number)).split()


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("zero", "0"),
        ("thirty one", "31"),
        ("three zero", "30"),
        ("one five", "15"),
        ("one two five", "125"),
        ("three six oh zero", "3600"),
        ("one twenty", "120"),
        ("one oh five", "105"),
        ("one zero five", "105"),
        ("fourteen fifty", "1450"),
        ("twenty one fifty five", "2155"),
        ("twelve oh six", "1206"),
        ("a hundred", "100"),
        ("one hundred and five", "105"),
        ("one hundred five", "105"),
        ("thirty six hundred", "3600"),
        ("thirty six hundred and fifty", "3650"),
        ("a thousand", "1000"),
        ("three thousand six hundred and fifty", "3650"),
        ("three thousand and six", "3006"),
        ("ninety nine thousand nine hundred ninety nine", "99999"),
        ("zero point seven six", "0.76"),
        ("point seven six", "0.76"),
        ("point oh three oh", "0.030"),
        ("point oh thirty", "0.030"),
        ("point thirty", "0.30"),
        ("point twelve", "0.12"),
        ("point oh oh six", "0.006"),
        ("twelve point six", "12.6"),
        ("twelve point six zero", "12.60"),
        ("one twenty point five", "120.5"),
        ("minus five", "-5"),
        ("negative two point five", "-2.5"),
        ("minus zero", "0"),
        ("half", "0.5"),
        ("half a", "0.5"),
        ("half an", "0.5"),
        ("a half", "0.5"),
        ("one half", "0.5"),
        ("a quarter", "0.25"),
        ("three quarters", "0.75"),
        ("an eighth", "0.125"),
        ("one eighth", "0.125"),
        ("three eighths", "0.375"),
        ("nine sixteenths", "0.5625"),
        ("seven thirty seconds", "0.21875"),
        ("one thirty second", "0.03125"),
        ("five sixty fourths", "0.078125"),
        ("twelve and a half", "12.5"),
        ("twelve and half", "12.5"),
        ("five and three eighths", "5.375"),
        ("twelve three eighths", "12.375"),
        ("a hundred and a half", "100.5"),
        ("one hundred and three eighths", "100.375"),
        ("three zero and five sixteenths", "30.3125"),
    ],
)
def test_each_form_means_exactly_one_value_with_its_zeros(text: str, value: str) -> None:
    assert values(text) == [value]


@pytest.mark.parametrize(
    ("text", "readings"),
    [
        # 5 3/8, or 53 eighths called digit by digit
        ("five three eighths", ["5.375", "6.625"]),
        ("one five sixteenths", ["1.3125", "0.9375"]),
        ("one three quarters", ["1.75", "3.25"]),
        # 20 5/16, or 25 sixteenths
        ("twenty five sixteenths", ["20.3125", "1.5625"]),
        # a proper fraction comes first
        ("twenty five thirty seconds", ["0.78125", "20.15625"]),
        ("sixty three sixty fourths", ["0.984375", "60.046875"]),
        ("thirty one sixty fourths", ["0.484375", "30.015625"]),
        # 1 25/32 or 120 5/32
        ("one twenty five thirty seconds", ["1.78125", "120.15625"]),
        ("one two five thirty seconds", ["1.78125", "12.15625"]),
    ],
)
def test_a_form_that_can_mean_two_numbers_gives_both_the_most_usual_first(
    text: str, readings: list[str]
) -> None:
    assert values(text) == readings


@pytest.mark.parametrize(
    "text",
    [
        "", "and", "thou", "point", "minus", "one one hundred", "twelve six", "two half",
        "thirty point", "point point five", "one thousand twelve hundred", "minus three eighths",
        "two eighths", "hundred", "and a half", "five and", "oh five", "a",
    ],
)  # fmt: skip
def test_what_is_no_number_gives_nothing(text: str) -> None:
    assert values(text) == []


def test_every_number_below_ten_thousand_as_num2words_says_it() -> None:
    # Outside check: the num2words package, which knows nothing of this grammar.
    for number in range(10_000):
        assert number_values(said_by_num2words(number)) == (Decimal(number),)


@given(st.integers(10_000, 99_999))
def test_larger_numbers_as_num2words_says_them(number: int) -> None:
    # Outside check: the num2words package.
    assert number_values(said_by_num2words(number)) == (Decimal(number),)


@given(st.decimals(0, 9999, places=2).filter(lambda value: value % 1 != 0))
def test_decimals_as_num2words_says_them(value: Decimal) -> None:
    # Outside check: the num2words package, which leaves out zeros at the end.
    assert number_values(said_by_num2words(value)) == (value,)


@pytest.mark.parametrize("below", [8, 16, 32, 64])
def test_fractions_with_the_ordinals_of_num2words(below: int) -> None:
    # Outside check: the ordinals of the num2words package.
    ordinal = num2words(below, to="ordinal").replace("-", " ").split()
    plural = [*ordinal[:-1], ordinal[-1] + "s"]
    for above in range(1, below, 2):
        words = [*said_by_num2words(above), *(ordinal if above == 1 else plural)]
        assert number_values(words)[0] == Decimal(above) / below
        for whole in (1, 12, 20, 105):
            mixed = number_values([*said_by_num2words(whole), "and", *words])
            assert mixed == (whole + Decimal(above) / below,)


@given(st.decimals(0, 99_999, places=4).map(Decimal))
def test_a_number_put_into_words_means_that_number_and_no_other(value: Decimal) -> None:
    words = number_words(value)
    assert words is not None
    (read,) = number_values(words)
    assert (read, str(read)) == (value, format(value, "f"))


@given(st.integers(1, 99), st.integers(0, 99), st.sampled_from([8, 16, 32, 64]))
def test_without_and_no_reading_of_a_mixed_number_is_left_out(
    whole: int, half_above: int, below: int
) -> None:
    above = 2 * half_above + 1
    name = {8: "eighths", 16: "sixteenths", 32: "thirty seconds", 64: "sixty fourths"}[below]
    words = [*said_by_num2words(whole), *said_by_num2words(above), *name.split()]
    readings = number_values(words)
    if above < below:
        assert whole + Decimal(above) / below in readings
    together = number_values([*said_by_num2words(whole), *said_by_num2words(above)])
    if together and together[0] < 100:
        assert together[0] / below in readings


SCRAMBLED = (
    "one two five nine ten fifteen twenty fifty hundred thousand and a oh zero point half quarter "
    "three eighths sixteenths thirty second seconds sixty fourths minus"
)


@given(st.lists(st.sampled_from(SCRAMBLED.split()), max_size=8))
def test_any_words_give_finite_distinct_values_without_exponents(words: list[str]) -> None:
    found = number_values(words)
    assert len(set(found)) == len(found)
    assert all(value.is_finite() and "E" not in str(value) for value in found)
