"""Written text made fit to be spoken."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.handbook.unit_table import UNITS
from companion.speak.speakable import sentence, speakable


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("3/8 inch", "three eighths inch"),
        ("1 1/8 inch wrench", "one and one eighth inch wrench"),
        ("M8, class 8.8", "m eight, class eight point eight"),
        ("about 31 ft·lbf", "about thirty one foot pounds"),
        ("120 psi", "one hundred twenty p s i"),
        ("120psi", "one hundred twenty p s i"),
        ("-5 °C", "minus five degrees celsius"),
        ("5 % low", "five percent low"),
        ("3600 rpm", "thirty six hundred r p m"),
        ("28-31 thou", "twenty eight to thirty one thou"),
        ("19,000 feet a minute", "nineteen thousand feet a minute"),
        ("0.762 millimeters", "zero point seven six two millimeters"),
        ("20 US ounces", "twenty u s ounces"),
        ("oil was drained; none was added", "oil was drained, none was added"),
        ("soak (2 hours).", "soak, two hours."),
        ("4/5", "four over five"),
        ("Key out. Plug wire off!", "Key out. Plug wire off!"),
        ("", ""),
    ],
)
def test_numbers_and_symbols_become_words(written: str, said: str) -> None:
    assert speakable(written) == said


def test_a_sentence_begins_with_a_capital_and_ends_with_a_stop() -> None:
    assert sentence("tag no oil. it hangs") == "Tag no oil. It hangs."
    assert sentence("clear to start?") == "Clear to start?"
    assert sentence("") == ""


@pytest.mark.parametrize("unit", UNITS)
def test_every_unit_can_be_spoken_as_it_is_written(unit: str) -> None:
    symbol = UNITS[unit].symbol
    if not symbol.isalpha():
        assert speakable(f"2 {symbol}") == f"two {UNITS[unit].plural}"


@given(
    text=st.text(alphabet=st.sampled_from("abM 0123456789/.,;:-–()·%°CΩ½“”"), max_size=40),
)
def test_no_digit_is_left_and_speaking_again_changes_nothing(text: str) -> None:
    once = speakable(text)
    assert not re.search(r"[0-9/;()·%“”]", once)
    assert speakable(once) == once
