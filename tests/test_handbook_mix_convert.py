"""Two-stroke mix and conversions, as they are said; mix charts: ``tests/outside/amounts.py``."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.handbook.answer import NotInHandbook
from companion.handbook.convert import convert_quantity, rounded
from companion.handbook.mix import mix_for
from companion.handbook.unit_table import UNITS
from companion.handbook.units import UnitsDoNotFit, convert


def test_how_a_mix_is_said():
    assert mix_for(Decimal(50), Decimal(2), "gallon").text == (
        "50 to 1 for 2 US gallons: 5.1 US ounces of oil, 151 milliliters."
    )
    assert "6.4 imperial ounces of oil, 182 milliliters" in (
        mix_for(Decimal(50), Decimal(2), "gallon", ounce="imperial").text
    )


def test_an_unusual_ratio_is_said_to_be_one():
    answer = mix_for(Decimal(5), Decimal(1), "liter")
    assert answer.unusual
    assert answer.text.endswith("Unusual: check the maker's ratio.")


@pytest.mark.parametrize(("ratio", "fuel"), [("0", "1"), ("-50", "1"), ("50", "0"), ("NaN", "1")])
def test_a_mix_of_nothing_is_refused(ratio, fuel):
    with pytest.raises(NotInHandbook, match="above zero"):
        mix_for(Decimal(ratio), Decimal(fuel), "gallon")


@pytest.mark.parametrize(("ratio", "fuel"), [("1", "1"), ("500", "1"), ("50", "300")])
def test_what_nobody_mixes_is_refused(ratio, fuel):
    with pytest.raises(NotInHandbook, match=r"Nobody mixes|more than 1000 liters"):
        mix_for(Decimal(ratio), Decimal(fuel), "gallon")


def test_fuel_is_not_measured_in_psi():
    with pytest.raises(UnitsDoNotFit, match="measured by volume"):
        mix_for(Decimal(50), Decimal(2), "psi")


@given(
    st.decimals(2, 250, places=1),
    st.decimals("0.1", 50, places=1),
    st.sampled_from(["ounce", "pint", "quart", "gallon", "liter"]),
    st.sampled_from(["us", "imperial"]),
)
def test_oil_times_ratio_is_the_fuel(ratio, fuel, unit, ounce):
    answer = mix_for(ratio, fuel, unit, ounce=ounce)
    back = convert(answer.milliliters * ratio, "milliliter", unit, ounce=ounce)
    assert float(back) == pytest.approx(float(fuel))


@pytest.mark.parametrize(
    ("value", "unit", "to", "text"),
    [
        ("30", "thou", "millimeter", "30 thou is 0.762 millimeters."),
        ("0.375", "inch", "millimeter", "0.375 inches is 9.525 millimeters."),
        ("0.7", "millimeter", "thou", "0.7 millimeters is 27.6 thou."),
        ("120", "psi", "kilopascal", "120 psi is 827 kilopascals."),
        ("16", "foot pound", "newton meter", "16 foot pounds is 21.7 newton meters."),
        ("-5", "celsius", "fahrenheit", "-5 degrees celsius is 23 degrees fahrenheit."),
        ("0", "celsius", "fahrenheit", "0 degrees celsius is 32 degrees fahrenheit."),
        ("20", "ounce", "milliliter", "20 US ounces is 591 milliliters."),
        ("1", "liter", "quart", "1 liter is 1.06 US quarts."),
        ("0.5", "milliliter", "ounce", "0.5 milliliters is 0.017 US ounces."),
        ("0", "thou", "millimeter", "0 thou is 0 millimeters."),
    ],
)
def test_how_conversions_are_said(value, unit, to, text):
    answer = convert_quantity(Decimal(value), unit, to)
    assert answer.text == text
    assert "NIST SP 811" in answer.source


@given(st.decimals("0.001", 100_000, places=3), st.sampled_from(sorted(UNITS)))
def test_rounding_never_loses_more_than_a_twentieth_nor_needs_an_exponent(value, unit):
    short = rounded(value, unit)
    assert abs(short - value) <= value / 20
    assert "E" not in str(short)
