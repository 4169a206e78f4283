"""Units: names, conversion, and how they are said and written."""

from __future__ import annotations

import subprocess
import sys
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.handbook import units
from companion.handbook.units import (
    SI_UNITS,
    UNITS,
    UnitsDoNotFit,
    UnknownUnit,
    convert,
    dimension,
    find_unit,
    from_si,
    spoken,
    to_si,
    written,
)

# NIST Special Publication 811 (2008), appendix B.8: factor to SI as printed there, and the entry.
# Factors that NIST prints in bold are exact; they are marked so here and must agree to the last
# digit. The others must agree to every digit printed.
NIST_SP_811_B8 = [
    ("thou", "us", "2.54e-5", True, "mil (0.001 in)"),
    ("inch", "us", "2.54e-2", True, "inch (in)"),
    ("psi", "us", "6.894757e3", False, "psi (pound-force per square inch)"),
    ("bar", "us", "1.0e5", True, "bar (bar)"),
    ("foot pound", "us", "1.355818", False, "pound-force foot (lbf·ft)"),
    ("inch pound", "us", "1.129848e-1", False, "pound-force inch (lbf·in)"),
    ("ounce", "us", "2.957353e-5", False, "ounce [U.S. fluid (fl oz)]"),
    ("ounce", "imperial", "2.841306e-5", False, "ounce [Canadian and U.K. fluid (Imperial)]"),
    ("pint", "us", "4.731765e-4", False, "pint (U.S. liquid)"),
    ("quart", "us", "9.463529e-4", False, "quart (U.S. liquid)"),
    ("gallon", "us", "3.785412e-3", False, "gallon (U.S.)"),
    ("gallon", "imperial", "4.54609e-3", True, "gallon [Canadian and U.K. (Imperial)]"),
    ("liter", "us", "1.0e-3", True, "liter (L)"),
    ("minute", "us", "6.0e1", True, "minute (min)"),
    ("hour", "us", "3.6e3", True, "hour (h)"),
]


@pytest.mark.parametrize(("unit", "ounce", "factor", "exact", "entry"), NIST_SP_811_B8)
def test_factors_agree_with_nist(unit, ounce, factor, exact, entry):
    expected = Decimal(factor)
    value, _ = to_si(Decimal(1), unit, ounce=ounce)
    if exact:
        assert value == expected, entry
    else:
        # One in the last digit printed is the most that rounding allows; half of it, in fact.
        last_digit = Decimal((0, (1,), expected.as_tuple().exponent))
        assert abs(value - expected) <= last_digit / 2, entry


def test_imperial_pint_and_quart_are_parts_of_the_imperial_gallon():
    # UK Weights and Measures Act 1985, schedule 1: quart 1/4, pint 1/8, ounce 1/160 gallon.
    gallon, _ = to_si(Decimal(1), "gallon", ounce="imperial")
    for name, number in [("quart", 4), ("pint", 8), ("ounce", 160)]:
        assert to_si(Decimal(number), name, ounce="imperial")[0] == gallon


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"),
    # NIST SP 811 B.8: t/°C = (t/°F − 32)/1.8. Freezing, boiling, the crossing point, absolute zero.
    [("32", "0"), ("212", "100"), ("-40", "-40"), ("23", "-5"), ("-459.67", "-273.15")],
)
def test_temperatures_are_points_on_a_scale(fahrenheit, celsius):
    assert convert(Decimal(fahrenheit), "fahrenheit", "celsius") == Decimal(celsius)
    assert convert(Decimal(celsius), "celsius", "fahrenheit") == Decimal(fahrenheit)
    # NIST SP 811 B.8: T/K = t/°C + 273.15
    assert to_si(Decimal(celsius), "celsius") == (Decimal(celsius) + Decimal("273.15"), "K")


@pytest.mark.parametrize(
    ("value", "unit", "si", "si_unit"),
    [
        ("30", "thou", "0.000762", "m"),
        ("0.375", "inch", "0.009525", "m"),
        ("0.8", "millimeter", "0.0008", "m"),
        ("3600", "rpm", "3600", "1/min"),
        ("12", "percent", "0.12", "1"),
        ("2.5", "kilohm", "2500", "ohm"),
        ("12.6", "volt", "12.6", "V"),
        ("1.5", "hour", "5400", "s"),
        ("200", "kilopascal", "200000", "Pa"),
        ("25", "newton meter", "25", "N.m"),
    ],
)
def test_values_of_the_bench_in_si(value, unit, si, si_unit):
    assert to_si(Decimal(value), unit) == (Decimal(si), si_unit)


def test_every_unit_names_a_dimension_with_an_si_unit():
    assert {unit.dimension for unit in UNITS.values()} == set(SI_UNITS)
    for name in UNITS:
        assert to_si(Decimal(1), name)[1] == SI_UNITS[dimension(name)]


def test_twenty_us_ounces_are_roughly_600_millilitres_and_more_than_imperial_ones():
    # Common practice: 20 US oz is roughly 600 mL.
    us = convert(Decimal(20), "ounce", "milliliter")
    imperial = convert(Decimal(20), "ounce", "milliliter", ounce="imperial")
    assert round(us) == 591
    assert round(imperial) == 568
    assert convert(Decimal(20), "us ounce", "milliliter", ounce="imperial") == us
    assert convert(Decimal(20), "imperial ounce", "milliliter") == imperial


units_of_one_dimension = st.sampled_from(sorted(SI_UNITS)).flatmap(
    lambda kind: st.tuples(
        *[st.sampled_from(sorted(n for n, u in UNITS.items() if u.dimension == kind))] * 2
    )
)
values = st.decimals(-100_000, 100_000, places=4)


@given(values, units_of_one_dimension, st.sampled_from(["us", "imperial"]))
def test_there_and_back_is_the_same_value(value, pair, ounce):
    unit, other = pair
    back = convert(convert(value, unit, other, ounce=ounce), other, unit, ounce=ounce)
    assert abs(back - value) <= Decimal("1e-18")


@given(values, st.sampled_from(sorted(UNITS)), st.sampled_from(["us", "imperial"]))
def test_to_si_and_from_si_undo_each_other(value, unit, ounce):
    back = from_si(to_si(value, unit, ounce=ounce)[0], unit, ounce=ounce)
    assert abs(back - value) <= Decimal("1e-18")


@given(values, values, units_of_one_dimension)
def test_order_survives_conversion(one, another, pair):
    unit, other = pair
    if one <= another:
        assert convert(one, unit, other) <= convert(another, unit, other)


def test_unknown_units_are_refused_with_the_list_of_known_ones():
    for use in (dimension, written, lambda u: to_si(Decimal(1), u), find_unit):
        with pytest.raises(UnknownUnit, match="'furlong' is not a unit of the bench; use one of"):
            use("furlong")


def test_units_of_different_dimensions_do_not_fit():
    with pytest.raises(UnitsDoNotFit, match="thou measure length and p s i measure pressure"):
        convert(Decimal(30), "thou", "psi")


@pytest.mark.parametrize("value", ["NaN", "Infinity"])
def test_what_is_no_number_is_refused(value):
    with pytest.raises(ValueError, match="not a number"):
        to_si(Decimal(value), "thou")


def test_how_units_are_said_and_written():
    assert spoken("psi", plural=True) == "p s i"
    assert spoken("foot pound", plural=True) == "foot pounds"
    assert spoken("celsius", plural=True) == "degrees celsius"
    assert spoken("inch", plural=False) == "inch"
    assert written("foot pound") == "ft·lbf"
    assert written("celsius") == "°C"
    assert written("thou") == "thou"


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("mm", "millimeter"),
        ("millimetres", "millimeter"),
        ("Litres", "liter"),
        ("ft-lb", "foot pound"),
        ("N·m", "newton meter"),
        ("kPa", "kilopascal"),
        ("kΩ", "kilohm"),
        ("°F", "fahrenheit"),
        ("imp  gal", "imperial gallon"),
        ("us fl oz", "us ounce"),
        ("oz", "ounce"),
        ("RPM", "rpm"),
    ],
)
def test_typed_names_in_either_spelling_are_found(typed, name):
    assert find_unit(typed).name == name


def test_no_alias_means_two_units():
    aliases = [alias for unit in UNITS.values() for alias in {unit.name, *unit.aliases}]
    assert len(aliases) == len(set(aliases))


def test_names_cost_no_pint():
    program = (
        "import sys; from companion.handbook.units import dimension, spoken, written;"
        "dimension('thou'); spoken('psi', plural=True); written('bar');"
        "sys.exit('pint' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == 0


def test_the_registry_is_loaded_once():
    assert units.load_registry() is units.load_registry()
