"""Units: names, conversion, and how they are said and written.

Factors are checked against NIST SP 811 and a library in ``tests/outside/amounts.py``.
"""

from __future__ import annotations

import subprocess
import sys
from decimal import Decimal
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.grammar.compiled import CallGrammar, load_grammar
from companion.handbook import units
from companion.handbook.unit_grammar import FILE, converts, unit_grammar
from companion.handbook.unit_table import DIMENSIONS, UNITS
from companion.handbook.units import (
    UnitsDoNotFit,
    UnknownUnit,
    convert,
    dimension,
    find_unit,
    from_si,
    spoken,
    to_si,
    units_that_fit,
    written,
)
from companion.intent.meaning import meanings
from companion.intent.text import respelled, typed_words
from companion.shipped import shipped


@pytest.mark.parametrize(
    ("value", "unit", "si", "si_unit"),
    [
        ("30", "thou", "0.000762", "m"),
        ("0.375", "inch", "0.009525", "m"),
        ("0.8", "millimeter", "0.0008", "m"),
        ("3600", "rpm", "3600", "1/min"),
        ("12", "percent", "0.12", "1"),
        # Hertz, watt and ampere are units of the SI itself: NIST SP 811, sections 4 and B.
        ("61.5", "hertz", "61.5", "Hz"),
        ("1500", "watt", "1500", "W"),
        ("2.4", "kilowatt", "2400", "W"),
        ("3.5", "amp", "3.5", "A"),
        ("35", "milliamp", "0.035", "A"),
        ("1.5", "turn", "1.5", "1"),
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
    assert {unit.dimension for unit in UNITS.values()} == set(DIMENSIONS)
    for name in UNITS:
        assert to_si(Decimal(1), name)[1] == DIMENSIONS[dimension(name)].si


def test_a_named_system_goes_before_the_shops_own():
    us = convert(Decimal(20), "ounce", "milliliter")
    imperial = convert(Decimal(20), "ounce", "milliliter", ounce="imperial")
    assert us > imperial
    assert convert(Decimal(20), "us ounce", "milliliter", ounce="imperial") == us
    assert convert(Decimal(20), "imperial ounce", "milliliter") == imperial


@cache
def whole_grammar() -> CallGrammar:
    return load_grammar()


units_of_one_dimension = st.sampled_from(sorted(DIMENSIONS)).flatmap(
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


def test_no_typed_form_means_two_units_of_one_dimension():
    forms = [
        (form, unit.dimension)
        for unit in UNITS.values()
        for form in (*unit.typed, *unit.only_typed)
    ]
    assert len(forms) == len(set(forms))


@pytest.mark.parametrize(
    ("typed", "other", "names"),
    [
        ("oz", "g", ("weight ounce", "gram")),
        ("oz", "mL", ("ounce", "milliliter")),
        ("lb", "kg", ("pound", "kilogram")),
        ("lbs", "bar", ("psi", "bar")),
        ("kg", "pounds", ("kilogram", "pound")),
        ("gal", "ounces", ("gallon", "ounce")),
        ("lb", "ounces", ("pound", "weight ounce")),
    ],
)
def test_a_form_of_two_units_is_told_apart_by_the_other(typed, other, names):
    assert tuple(unit.name for unit in units_that_fit(typed, other)) == names


def test_whatever_is_said_or_typed_of_a_unit_finds_it():
    for unit in UNITS.values():
        for form in (*unit.said, *unit.typed, *unit.only_typed):
            assert unit in units_that_fit(form, unit.name), form


def test_the_grammar_of_units_is_the_one_that_the_table_gives():
    file = shipped("grammars") / FILE
    assert file.read_text(encoding="utf-8") == unit_grammar(), (
        "write it anew: python -m companion.handbook.unit_grammar"
    )


def test_whatever_is_called_can_be_converted_by_voice_to_every_unit_of_its_kind():
    grammar = whole_grammar()
    pairs = 0
    for unit in UNITS.values():
        for other in converts(unit):
            call = f"convert two {unit.plural} to {other.plural}".split()
            (meant,) = meanings(call, grammar)
            assert (meant.unit, meant.to, str(meant.value)) == (unit.name, other.name, "2")
            pairs += 1
    assert pairs > 200


@pytest.mark.parametrize("unit", UNITS)
def test_a_short_form_typed_in_a_call_is_the_unit(unit):
    others = converts(UNITS[unit])
    if others:
        grammar = whole_grammar()
        for form in UNITS[unit].typed:
            words = respelled(
                typed_words(f"convert 2 {form} to {others[0].name}")[0], grammar.words
            )
            meant = [call for each in words for call in meanings(each, grammar)]
            assert unit in {call.unit for call in meant}, form


def test_every_unit_that_a_page_shows_beside_another_measures_the_same():
    for unit in UNITS.values():
        if unit.beside is not None:
            assert dimension(unit.beside) == unit.dimension
            assert unit.beside != unit.name


def test_names_cost_no_pint():
    program = (
        "import sys; from companion.handbook.units import dimension, spoken, written;"
        "dimension('thou'); spoken('psi', plural=True); written('bar');"
        "sys.exit('pint' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == 0


def test_the_registry_is_loaded_once():
    assert units.load_registry() is units.load_registry()
