"""Usual tightening torques by size, grade and condition of the thread.

Areas, strengths and torques are checked against standards, charts and a library in
``tests/outside/threads.py``.
"""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.handbook.answer import NotInHandbook
from companion.handbook.thread import (
    METRIC_COARSE,
    METRIC_FINE,
    UNIFIED_COARSE,
    UNIFIED_FINE,
)
from companion.handbook.torque import METRIC_GRADES, NUT_FACTORS, SAE_J429, torque_for


def test_three_eighths_grade_five_dry_is_about_31_foot_pounds():
    answer = torque_for(Decimal("0.375"), "inch", "grade 5")
    assert answer.text == (
        "3/8 inch grade 5: dry about 31 foot pounds, oiled only 28. The maker's figure wins."
    )
    assert "SAE J429" in answer.source
    assert answer.thread == "3/8-16"


def test_metric_answers_say_newton_meters_and_note_foot_pounds_or_inch_pounds():
    larger = torque_for(Decimal(8), "millimeter", "class 8.8")
    assert "dry about 25 newton meters, oiled only 23." in larger.text
    assert "Dry, the same as 19 foot pounds." in larger.note
    small = torque_for(Decimal(5), "millimeter", "class 8.8")
    assert "dry about 6.2 newton meters, oiled only 5.6." in small.text
    assert "the same as 55 inch pounds." in small.note


SIZES = [size for size in sorted(METRIC_COARSE) if size <= 16]
"""Class 9.8 is made up to M16."""

every_bolt = st.one_of(
    st.tuples(
        st.sampled_from(sorted(UNIFIED_COARSE)), st.just("inch"), st.sampled_from(sorted(SAE_J429))
    ),
    st.tuples(
        st.sampled_from(SIZES),
        st.just("millimeter"),
        st.sampled_from(sorted(METRIC_GRADES)),
    ),
)


@given(every_bolt)
def test_slick_threads_take_less_and_the_caution_says_so(bolt):
    dry, oiled, anti_seize = (torque_for(*bolt, condition) for condition in NUT_FACTORS)
    assert dry.newton_meters > oiled.newton_meters > anti_seize.newton_meters > 0
    for answer in (dry, oiled, anti_seize):
        assert "the dry figure would overstretch the bolt" in answer.note
        assert answer.text.endswith("The maker's figure wins.")
        # Both figures are said, and the slick one is heard to be less.
        said = re.search(r"dry about ([\d.]+) [a-z ]+, (.*) only ([\d.]+)\.", answer.text)
        assert float(said[1]) > float(said[3]) > 0
        assert said[2] == ("with anti seize" if answer is anti_seize else "oiled")
    assert oiled.beside_newton_meters == pytest.approx(dry.newton_meters)
    assert dry.beside_newton_meters == pytest.approx(oiled.newton_meters)


def test_stainless_bolts_are_said_to_gall():
    answer = torque_for(Decimal(8), "millimeter", "A4-80", "anti seize")
    assert answer.text.startswith(
        "M8 stainless A4 80: dry about 26 newton meters, with anti seize only"
    )
    assert "galls" in answer.note
    assert "ISO 3506-1, from memory" in answer.source
    assert "galls" not in torque_for(Decimal(8), "millimeter", "class 8.8").note


def test_what_no_standard_makes_is_refused():
    with pytest.raises(NotInHandbook, match=r"no class 9\.8 in M18"):
        torque_for(Decimal(18), "millimeter", "class 9.8")


@given(every_bolt)
def test_the_three_torque_units_agree_by_way_of_pint(bolt):
    from companion.handbook.units import to_si

    answer = torque_for(*bolt)
    for value, unit in [(answer.foot_pounds, "foot pound"), (answer.inch_pounds, "inch pound")]:
        assert float(to_si(Decimal(value), unit)[0]) == pytest.approx(answer.newton_meters)


@given(st.sampled_from(sorted(METRIC_GRADES)))
def test_a_thicker_bolt_takes_more(grade):
    torques = [torque_for(d, "millimeter", grade).newton_meters for d in SIZES]
    assert torques == sorted(torques)


def test_fine_threads_take_more_than_coarse_ones():
    for diameter, threads in UNIFIED_FINE.items():
        fine = torque_for(diameter, "inch", "grade 5", pitch=Fraction(threads))
        assert fine.newton_meters > torque_for(diameter, "inch", "grade 5").newton_meters
    for diameter, pitches in METRIC_FINE.items():
        for pitch in pitches:
            fine = torque_for(diameter, "millimeter", "class 8.8", pitch=pitch)
            coarse = torque_for(diameter, "millimeter", "class 8.8")
            assert fine.newton_meters > coarse.newton_meters


@pytest.mark.parametrize(
    ("size", "unit", "grade", "sentence"),
    [
        ("0.4", "inch", "grade 5", "The handbook has no 2/5 inch bolt; it has 1/4 to 5/8"),
        ("9", "millimeter", "class 8.8", "The handbook has no M9 bolt; it has M3, M4"),
        (
            "0.375",
            "inch",
            "class 8.8",
            "An inch bolt has a grade, such as grade 5; class 8.8 is of the other",
        ),
        (
            "8",
            "millimeter",
            "grade 5",
            "A metric bolt has a class, such as 8.8, or is stainless; grade 5 is of",
        ),
        ("0.375", "inch", "grade 7", "grade 2, grade 5 or grade 8; the handbook has no 'grade 7'"),
        ("0", "inch", "grade 5", "The handbook has no 0 inch bolt"),
        ("-8", "millimeter", "class 8.8", "The handbook has no M-8 bolt"),
    ],
)
def test_what_the_tables_do_not_hold_gets_a_sentence_and_no_number(size, unit, grade, sentence):
    with pytest.raises(NotInHandbook, match=sentence):
        torque_for(Decimal(size), unit, grade)


def test_an_unknown_condition_is_refused():
    with pytest.raises(NotInHandbook, match="A thread is dry, oiled or anti seize, not 'waxed'"):
        torque_for(Decimal(8), "millimeter", "class 8.8", "waxed")  # type: ignore[arg-type]


def test_a_thread_that_is_not_standard_is_refused_with_those_that_are():
    with pytest.raises(NotInHandbook, match="it has 3/8-16 and 3/8-24"):
        torque_for(Decimal("0.375"), "inch", "grade 5", pitch=Decimal(20))
    with pytest.raises(NotInHandbook, match=r"it has M8x1\.25 and M8x1"):
        torque_for(Decimal(8), "millimeter", "class 8.8", pitch=Decimal(0))
