"""Typed text: digits, symbols, punctuation and spellings become the words of the grammar."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.intent.numbers import number_values
from companion.intent.text import respelled, typed_words


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("gap 30 thou", "gap thirty thou"),
        ("Gap: 30 thou!", "gap thirty thou"),
        ("gap 30thou", "gap thirty thou"),
        ("gap thirty-one thou", "gap thirty one thou"),
        ("gap .030 in", "gap point zero three zero inches"),
        ("gap 0.030 in.", "gap zero point zero three zero inches"),
        ('gap 0.030"', "gap zero point zero three zero inches"),
        ("play 5 3/8 in", "play five and three eighths inches"),
        ("play 5-3/8″", "play five and three eighths inches"),
        ("play 5⅜ in", "play five and three eighths inches"),
        ("play 25/16 in", "play one and nine sixteenths inches"),
        ("play 4/8 in", "play one half inches"),
        ("engine speed 3,600 RPM", "engine speed three thousand six hundred r p m"),
        ("engine speed 3600", "engine speed three thousand six hundred"),
        ("battery 12.6V", "battery twelve point six volts"),
        ("air temperature -5 °C", "air temperature minus five degrees celsius"),
        ("air temperature −5 C", "air temperature minus five degrees celsius"),
        ("air temperature 23 deg F", "air temperature twenty three degrees fahrenheit"),
        ("compression 120 psi", "compression one hundred twenty p s i"),
        ("compression 830 kPa", "compression eight hundred thirty kilopascals"),
        ("torque 16 ft-lb", "torque sixteen foot pounds"),
        ("torque 16 ft·lbf", "torque sixteen foot pounds"),
        ("torque 16 lb-ft", "torque sixteen foot pounds"),
        ("torque 90 in-lbs", "torque ninety inch pounds"),
        ("torque 22 N·m", "torque twenty two newton meters"),
        ("torque 22 Nm", "torque twenty two newton meters"),
        ("gap 0.76 mm", "gap zero point seven six millimeters"),
        ("added 20 oz. of oil", "added twenty ounces of oil"),
        ("added 20 fl. oz of oil", "added twenty ounces of oil"),
        ("added 600 mL of oil", "added six hundred milliliters of oil"),
        ("drained 1/2 L of oil", "drained one half liters of oil"),
        ("leak down 12%", "leak down twelve percent"),
        ("coil resistance 2.5 Ω", "coil resistance two point five ohms"),
        ("coil resistance 10 kΩ", "coil resistance ten kilohms"),
        ("mix 50:1 for 2 gal", "mix fifty to one for two gallons"),
        ("torque for M8 A2-70", "torque for m eight stainless a two seventy"),
        ("torque for M8 stainless a4-80", "torque for m eight stainless a four eighty"),
        ("convert 90 lb to kg", "convert ninety pounds to kilograms"),
        ("convert 2 kgf/cm² to psi", "convert two kilograms per square centimeter to p s i"),
        ("torque for M8 class 8.8", "torque for m eight class eight point eight"),
        ("convert 5mm to in", "convert five millimeters to inches"),
        ("start timer 15 min", "start timer fifteen minutes"),
        ("start soak timer 2h", "start soak timer two hours"),
        ("follow-up carburetor", "follow up carburetor"),
        ("[unk] gap thirty", "[unk] gap thirty"),
        ("", ""),
        ("  ...  ", ""),
    ],
)  # fmt: skip
def test_typed_text_is_put_into_words(typed: str, words: str) -> None:
    assert " ".join(typed_words(typed)[0]) == words


def test_a_fraction_is_worded_as_a_decimal_too() -> None:
    called, decimal = typed_words("drained 1/8 gal")
    assert " ".join(called) == "drained one eighth gallons"
    assert " ".join(decimal) == "drained zero point one two five gallons"


@pytest.mark.parametrize(
    "odd",
    ["3,6", "28-31", "1 20", "1 000", "007", "100000", "0.76543", "3/7", "1/0", "5..3", "1.2.3",
     "5 + 3", "12:30:15", "1 9/8", "2/3/4"],
)  # fmt: skip
def test_what_is_not_plainly_one_number_is_never_put_into_words(odd: str) -> None:
    assert all(odd.replace(" + ", " ") in words for words in typed_words(f"gap {odd} thou"))


def test_minus_between_two_numbers_stays_and_so_is_no_number() -> None:
    (words,) = typed_words("gap 31 - 3 thou")
    assert " ".join(words) == "gap thirty one minus three thou"
    assert number_values(words[1:-1]) == ()


@given(st.decimals(0, 99_999, places=4).map(Decimal), st.integers(0, 4))
def test_typed_digits_mean_exactly_that_number(value: Decimal, places: int) -> None:
    typed = f"{value:.{places}f}"
    if Decimal(typed) >= 100_000:
        return
    (words,) = typed_words(f"gap {typed} thou")
    (read,) = number_values(words[1:-1])
    assert format(read, "f") == typed


@given(
    st.integers(0, 9999),
    st.integers(1, 63),
    st.sampled_from([2, 4, 8, 16, 32, 64]),
    st.sampled_from([" ", "-"]),
)
def test_a_typed_fraction_means_exactly_that_number(
    whole: int, above: int, below: int, between: str
) -> None:
    if whole and above >= below:
        return
    typed = f"{whole}{between}{above}/{below}" if whole else f"{above}/{below}"
    for words in typed_words(f"gap {typed} in"):
        number = words[1:-1]
        # A decimal with more places than can be called stays away from every grammar.
        if len(number) == 1 and "/" in number[0]:
            continue
        values = number_values(number)
        assert values[0] == whole + Decimal(above) / below
        # Spoken, 21/32 is also 20 1/32: both meanings are offered, so that it is asked about.
        if len(values) > 1:
            assert above > 20
            assert above % 10 != 0


@pytest.mark.parametrize(
    ("typed", "american"),
    [
        ("tyre pressure", "tire pressure"),
        ("litres", "liters"),
        ("millimetres", "millimeters"),
        ("newton metres", "newton meters"),
        ("carburettor", "carburetor"),
        ("inlet lash", "intake lash"),
        ("petrol", "fuel"),
        ("standby", "stand by"),
        ("leakdown", "leak down"),
    ],
)
def test_either_spelling_is_tried(typed: str, american: str) -> None:
    known = frozenset(american.split())
    assert tuple(american.split()) in respelled(typed.split(), known)


def test_a_job_card_in_british_spelling_is_met_by_american_typing() -> None:
    variants = respelled(("tire", "worn"), frozenset({"tyre", "tire", "worn"}))
    assert ("tire", "worn") in variants
    assert ("tyre", "worn") in variants


@given(st.text(max_size=60))
def test_any_text_gives_words_without_spaces_at_their_ends(text: str) -> None:
    for words in typed_words(text):
        assert all(word and word == word.strip() for word in words)
