"""Pulleys, blade tips and generators."""

from __future__ import annotations

import math
import re
from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from companion.handbook.answer import NotInHandbook
from companion.handbook.frequency import NOMINALS, frequency_at
from companion.handbook.pulley import pulley_speeds
from companion.handbook.tip_speed import LIMIT, tip_speed
from companion.handbook.units import UnitsDoNotFit

D = Decimal
SIZES = st.decimals("0.5", 24, places=2)
SPEEDS = st.decimals(100, 10_000, places=0)


# --- pulleys ------------------------------------------------------------------------------------


def test_how_pulleys_are_said():
    assert pulley_speeds(D(3), D(9), "inch", D(3600)).text == (
        "3 to 9 inches at 3600: about 1200 rpm, belt 2800 feet per minute."
    )
    fast = pulley_speeds(D(8), D(3), "inch", D(3600))
    assert fast.fast
    assert fast.text.endswith("about 9600 rpm, belt 7500 feet per minute, too fast.")


@given(SIZES, SIZES, SPEEDS)
def test_the_belt_runs_at_one_speed_on_both_pulleys(driver, driven, rpm):
    assume(rpm * driver / driven <= 30_000)
    there = pulley_speeds(driver, driven, "inch", rpm)
    rim = math.pi * float(driven) * float(there.driven_rpm) / 12
    assert rim == pytest.approx(float(there.feet_per_minute))
    assert float(there.meters_per_second) == pytest.approx(rim * 0.3048 / 60)
    back = pulley_speeds(driven, driver, "inch", there.driven_rpm)
    assert float(back.driven_rpm) == pytest.approx(float(rpm))


@given(SIZES, SIZES, SPEEDS)
def test_inches_and_millimeters_give_the_same_speeds(driver, driven, rpm):
    assume(rpm * driver / driven <= 30_000)
    inches = pulley_speeds(driver, driven, "inch", rpm)
    millimeters = pulley_speeds(driver * D("25.4"), driven * D("25.4"), "millimeter", rpm)
    assert float(inches.driven_rpm) == pytest.approx(float(millimeters.driven_rpm))
    assert float(inches.feet_per_minute) == pytest.approx(float(millimeters.feet_per_minute))


@pytest.mark.parametrize(
    ("driver", "driven", "rpm", "sentence"),
    [
        ("0", "9", "3600", "A pulley of 0 inches is none"),
        ("-3", "9", "3600", "A pulley of -3 inches is none"),
        ("3", "900", "3600", "A pulley of 900 inches is none"),
        ("3", "9", "0", "faster than 0"),
        ("3", "9", "-3600", "faster than 0"),
        ("3", "9", "360000", "at most 30000 rpm, not 360000"),
        ("NaN", "9", "3600", "none the handbook knows"),
        ("24", "2", "3600", "The driven pulley would turn at 43200 rpm"),
    ],
)
def test_what_is_no_belt_drive_gets_a_sentence(driver, driven, rpm, sentence):
    with pytest.raises(NotInHandbook, match=sentence):
        pulley_speeds(D(driver), D(driven), "inch", D(rpm))


# --- blade tips ---------------------------------------------------------------------------------


def test_how_tip_speeds_are_said():
    assert tip_speed(D(21), "inch", D(3100)).text == (
        "21 inches at 3100: 17000 feet per minute, within the limit of 19000."
    )
    assert tip_speed(D(21), "inch", D(3500)).text == (
        "3500: 19300 feet per minute, too fast. Keep to the maker's speed."
    )
    assert tip_speed(D(21), "inch", D(3300), D(3100)).text == (
        "3300: 18100 feet per minute, too fast. At most the maker's 3100."
    )


@given(
    st.decimals(4, 42, places=2), st.decimals(100, 3400, places=0), st.decimals(500, 5000, places=0)
)
def test_no_speed_above_the_makers_is_ever_advised(length, rpm, governed):
    answer = tip_speed(length, "inch", rpm, governed)
    assert answer.at_most <= min(governed, answer.limit_rpm)
    if "At most" in answer.text:
        advised = D(re.findall(r"\d+", answer.text.split("At most ")[1])[0])
        assert advised <= governed
        assert not tip_speed(length, "inch", advised).over
    else:
        assert rpm <= governed
        assert not answer.over


@given(st.decimals(4, 42, places=2), st.decimals(100, 3400, places=0))
def test_what_is_said_is_never_on_the_other_side_of_the_limit(length, rpm):
    answer = tip_speed(length, "inch", rpm)
    speed = math.pi * float(length) * float(rpm) / 12
    assert float(answer.feet_per_minute) == pytest.approx(speed)
    assert answer.over == (answer.feet_per_minute > LIMIT)
    said = int(answer.text.split(": ")[1].split()[0])
    assert (said > LIMIT) == answer.over
    assert abs(said - speed) <= 100
    if answer.over:
        # Nobody said how fast the maker governs it: no figure may be taken for that.
        assert answer.text.endswith("too fast. Keep to the maker's speed.")


def test_a_blade_at_the_limit_to_the_last_digit_is_within_it():
    limit = tip_speed(D(21), "inch", D(3000)).limit_rpm
    assert not tip_speed(D(21), "inch", limit - D("0.001")).over
    assert tip_speed(D(21), "inch", limit + D("0.001")).over


@pytest.mark.parametrize(
    ("length", "rpm"),
    [("0", "3100"), ("-21", "3100"), ("2100", "3100"), ("21", "0"), ("21", "-1"), ("21", "99999"),
     ("60", "3100")],
)  # fmt: skip
def test_what_is_no_mower_blade_gets_a_sentence(length, rpm):
    sentences = "No mower blade measures that|A blade turns faster|over twice the limit"
    with pytest.raises(NotInHandbook, match=sentences):
        tip_speed(D(length), "inch", D(rpm))


# --- generators ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rpm", "poles", "nominal", "text"),
    [
        (3600, 2, 60, "60 hertz, usual for 60 under load."),
        (3720, 2, 60, "62 hertz, usual for 60 with no load."),
        (3900, 2, 60, "65 hertz, high for 60. With no load 61 to 63."),
        (3300, 2, 60, "55 hertz, low for 60. Under load 58 to 61."),
        (1500, 4, 50, "50 hertz, usual for 50 under load."),
        (1650, 4, 50, "55 hertz, high for 50. With no load 51 to 53."),
        # Where nobody said which, it is judged against both.
        (3600, 2, None, "60 hertz, high for 50 and usual under load for 60."),
        (3060, 2, None, "51 hertz, usual under load for 50 and low for 60."),
        (3300, 2, None, "55 hertz, high for 50 and low for 60."),
        (2400, 2, None, "40 hertz, low for 50 and low for 60."),
    ],
)  # fmt: skip
def test_how_frequencies_are_said(rpm, poles, nominal, text):
    assert frequency_at(D(rpm), poles, nominal).text == f"{rpm} on {poles} poles: {text}"


@given(st.decimals(500, 5000, places=0), st.sampled_from(NOMINALS))
def test_a_faster_shaft_is_never_judged_lower(rpm, nominal):
    order = ["low", "loaded", "unloaded", "high"]
    slower, faster = (frequency_at(each, 2, nominal).verdict for each in (rpm, rpm + 1))
    assert order.index(slower) <= order.index(faster)


def test_mains_have_50_or_60_hertz():
    with pytest.raises(NotInHandbook, match="50 or 60 hertz, not 55"):
        frequency_at(D(3600), 2, 55)


@given(st.decimals(500, 5000, places=0), st.sampled_from([2, 4, 6, 8]))
def test_a_pair_of_poles_passes_once_a_turn(rpm, poles):
    answer = frequency_at(rpm, poles, 60)
    turns_a_second = float(rpm) / 60
    assert float(answer.hertz) == pytest.approx(turns_a_second * poles / 2)
    assert frequency_at(D(answer.nominal_rpm), poles).hertz == 60


@pytest.mark.parametrize(("rpm", "poles"), [("0", 2), ("-3600", 2), ("36000", 2), ("NaN", 2)])
def test_speeds_of_no_generator_get_a_sentence(rpm, poles):
    with pytest.raises(NotInHandbook, match="A generator turns faster than 0"):
        frequency_at(D(rpm), poles)


@pytest.mark.parametrize("poles", [0, -2, 1, 3, 100])
def test_an_alternator_has_pairs_of_poles(poles):
    with pytest.raises(NotInHandbook, match=f"2, 4, 6 or 8 poles, not {poles}"):
        frequency_at(D(3600), poles)


@pytest.mark.parametrize("unit", ["psi", "volt", "liter", "celsius"])
def test_lengths_are_not_given_in_other_units(unit):
    with pytest.raises(UnitsDoNotFit):
        pulley_speeds(D(3), D(9), unit, D(3600))
    with pytest.raises(UnitsDoNotFit):
        tip_speed(D(21), unit, D(3100))
