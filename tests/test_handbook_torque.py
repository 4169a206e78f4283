"""Usual tightening torques by size, grade and condition of the thread."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from screw_thread_lib import Assembly
from screw_thread_lib.data.ASME import ASME_M_6g6H_dict, ASME_UN_2A2B_dict

from companion.handbook.answer import NotInHandbook
from companion.handbook.thread import (
    METRIC_COARSE,
    METRIC_FINE,
    UNIFIED_COARSE,
    UNIFIED_FINE,
    parse_size,
    standard_thread,
)
from companion.handbook.torque import ISO_898_1, NUT_FACTORS, SAE_J429, torque_for

# Tensile stress areas as standards and handbooks print them, from memory: ASME B1.1 (square
# inches) and ISO 898-1 (square millimetres). Each must agree within 0.5 %.
PRINTED_AREAS = [
    ("1/4-20", 0.0318), ("5/16-18", 0.0524), ("3/8-16", 0.0775), ("7/16-14", 0.1063),
    ("1/2-13", 0.1419), ("9/16-12", 0.182), ("5/8-11", 0.226), ("3/4-10", 0.334),
    ("7/8-9", 0.462), ("1-8", 0.606),
    ("1/4-28", 0.0364), ("5/16-24", 0.0580), ("3/8-24", 0.0878), ("7/16-20", 0.1187),
    ("1/2-20", 0.1599), ("9/16-18", 0.203), ("5/8-18", 0.256), ("3/4-16", 0.373),
    ("7/8-14", 0.509), ("1-12", 0.663),
    ("M3", 5.03), ("M4", 8.78), ("M5", 14.2), ("M6", 20.1), ("M8", 36.6), ("M10", 58.0),
    ("M12", 84.3), ("M14", 115), ("M16", 157), ("M18", 192), ("M20", 245), ("M22", 303),
    ("M24", 353),
    ("M8x1", 39.2), ("M10x1.25", 61.2), ("M12x1.25", 92.1), ("M14x1.5", 125), ("M16x1.5", 167),
]  # fmt: skip


@pytest.mark.parametrize(("size", "area"), PRINTED_AREAS)
def test_stress_areas_are_those_printed(size, area):
    diameter, unit, pitch = parse_size(size)
    assert standard_thread(diameter, unit, pitch).stress_area == pytest.approx(area, rel=0.005)


UNIFIED = [each for each in sorted(ASME_UN_2A2B_dict) if ASME_UN_2A2B_dict[each]["series"] != "UNS"]


@pytest.mark.parametrize("designation", [each for each in UNIFIED if not each.startswith("10-")])
def test_inch_stress_areas_agree_with_an_independent_library(designation):
    # screw_thread_lib: FED-STD-H28/2B, formula 1b, on ASME B1.1-2019 data.
    diameter, unit, pitch = parse_size(designation)
    theirs = Assembly.from_database("ASME_UN_2A2B", designation).As_FEDSTD_1b()
    assert standard_thread(diameter, unit, pitch).stress_area == pytest.approx(theirs, rel=1e-4)


@pytest.mark.parametrize("designation", sorted(ASME_M_6g6H_dict))
def test_metric_stress_areas_agree_with_an_independent_library(designation):
    # screw_thread_lib: the same formula on ASME B1.13M data; the minor diameter differs a little,
    # which makes up to 1.5 %.
    diameter, unit, pitch = parse_size(designation.replace("-", "x"))
    theirs = Assembly.from_database("ASME_M_6g6H", designation).As_FEDSTD_1b() * 25.4**2
    assert standard_thread(diameter, unit, pitch).stress_area == pytest.approx(theirs, rel=0.015)


# Dry torques (K = 0.20, 75 % of proof load) as bolt-torque charts commonly print them, from memory,
# in ft·lbf; charts round to whole foot-pounds and differ among themselves by about 5 %, so either
# half a foot-pound or 5 % is allowed.
PRINTED_FOOT_POUNDS = [
    ("1/4-20", "grade 2", 5.5), ("1/4-20", "grade 5", 8), ("1/4-20", "grade 8", 12),
    ("5/16-18", "grade 2", 11), ("5/16-18", "grade 5", 17), ("5/16-18", "grade 8", 25),
    ("3/8-16", "grade 2", 20), ("3/8-16", "grade 5", 31), ("3/8-16", "grade 8", 44),
    ("7/16-14", "grade 2", 32), ("7/16-14", "grade 5", 49), ("7/16-14", "grade 8", 70),
    ("1/2-13", "grade 2", 49), ("1/2-13", "grade 5", 75), ("1/2-13", "grade 8", 107),
    ("9/16-12", "grade 5", 109), ("9/16-12", "grade 8", 154),
    ("5/8-11", "grade 5", 150), ("5/8-11", "grade 8", 212),
    ("3/4-10", "grade 5", 266), ("3/4-10", "grade 8", 376),
    ("3/8-24", "grade 5", 35), ("1/2-20", "grade 5", 85),
]  # fmt: skip


@pytest.mark.parametrize(("size", "grade", "foot_pounds"), PRINTED_FOOT_POUNDS)
def test_inch_torques_are_those_of_common_charts(size, grade, foot_pounds):
    diameter, unit, pitch = parse_size(size)
    answer = torque_for(diameter, unit, grade, "dry", pitch)
    assert answer.foot_pounds == pytest.approx(foot_pounds, rel=0.05, abs=0.5)


# Dry torques of metric bolts as charts commonly print them, from memory, in N·m. Charts assume
# friction between 0.10 and 0.14 and 70 to 90 % of proof load, so the tolerance is 10 %.
PRINTED_NEWTON_METERS = [
    ("M5", "class 8.8", 6), ("M6", "class 8.8", 10), ("M8", "class 8.8", 25),
    ("M10", "class 8.8", 49), ("M12", "class 8.8", 86), ("M14", "class 8.8", 137),
    ("M16", "class 8.8", 214), ("M8", "class 10.9", 36), ("M10", "class 10.9", 72),
    ("M12", "class 10.9", 126), ("M8", "class 12.9", 42), ("M12", "class 12.9", 147),
]  # fmt: skip


@pytest.mark.parametrize(("size", "grade", "newton_meters"), PRINTED_NEWTON_METERS)
def test_metric_torques_are_those_of_common_charts(size, grade, newton_meters):
    diameter, unit, pitch = parse_size(size)
    answer = torque_for(diameter, unit, grade, "dry", pitch)
    assert answer.newton_meters == pytest.approx(newton_meters, rel=0.1)


def test_three_eighths_grade_five_dry_is_about_31_foot_pounds():
    answer = torque_for(Decimal("0.375"), "inch", "grade 5")
    assert answer.text == (
        "3/8 inch coarse grade 5, dry: about 31 foot pounds. The maker's figure wins."
    )
    assert "SAE J429" in answer.source
    assert answer.thread == "3/8-16"


def test_metric_answers_say_newton_meters_and_note_foot_pounds_or_inch_pounds():
    larger = torque_for(Decimal(8), "millimeter", "class 8.8")
    assert "about 25 newton meters." in larger.text
    assert "The same as 19 foot pounds." in larger.note
    small = torque_for(Decimal(5), "millimeter", "class 8.8")
    assert "about 6.2 newton meters." in small.text
    assert "The same as 55 inch pounds." in small.note


every_bolt = st.one_of(
    st.tuples(
        st.sampled_from(sorted(UNIFIED_COARSE)), st.just("inch"), st.sampled_from(sorted(SAE_J429))
    ),
    st.tuples(
        st.sampled_from(sorted(METRIC_COARSE)),
        st.just("millimeter"),
        st.sampled_from(sorted(ISO_898_1)),
    ),
)


@given(every_bolt)
def test_slick_threads_take_less_and_the_caution_says_so(bolt):
    dry, oiled, anti_seize = (torque_for(*bolt, condition) for condition in NUT_FACTORS)
    assert dry.newton_meters > oiled.newton_meters > anti_seize.newton_meters > 0
    for answer in (oiled, anti_seize):
        assert "the dry figure would overstretch the bolt" in answer.note
        assert ", less w" in answer.text
    for answer in (dry, oiled, anti_seize):
        assert answer.text.endswith("The maker's figure wins.")


@given(every_bolt)
def test_the_three_torque_units_agree_by_way_of_pint(bolt):
    from companion.handbook.units import to_si

    answer = torque_for(*bolt)
    for value, unit in [(answer.foot_pounds, "foot pound"), (answer.inch_pounds, "inch pound")]:
        assert float(to_si(Decimal(value), unit)[0]) == pytest.approx(answer.newton_meters)


@given(st.sampled_from(sorted(ISO_898_1)))
def test_a_thicker_bolt_takes_more(grade):
    torques = [torque_for(d, "millimeter", grade).newton_meters for d in sorted(METRIC_COARSE)]
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
        ("0.375", "inch", "class 8.8", "An inch bolt is grade 2, grade 5 or grade 8; class 8.8 is"),
        ("8", "millimeter", "grade 5", "A metric bolt is class 8.8, class 10.9 or class 12.9"),
        ("0.375", "inch", "grade 7", "the handbook has no 'grade 7'"),
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
