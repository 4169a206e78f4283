"""Readings and their verdicts."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.handbook.units import convert as convert_units
from companion.job import events as ev
from companion.job.answers import Nothing, ReadBackReading, Ticked
from companion.job.decide import expectations
from companion.job.events import Window
from companion.job.judge import judge
from tests.bench_job import CARD, DISREGARD, SHEET, Job, correction, reading, step


def verdict(measure: str, value: str, unit: str) -> tuple[str, Decimal | None]:
    event = Job(SHEET).call(reading(measure, value, unit)).last(ev.ReadingRecorded)
    return event.verdict, event.beyond


def test_a_reading_in_the_window_is_in_and_so_are_both_ends() -> None:
    for value in ("5", "6", "7"):
        assert verdict("intake clearance", value, "thou") == ("in", None)


def test_a_reading_outside_says_by_how_much_in_the_unit_called() -> None:
    assert verdict("intake clearance", "8", "thou") == ("high", Decimal("1"))
    assert verdict("intake clearance", "4.5", "thou") == ("low", Decimal("0.5"))


def test_a_reading_is_judged_in_whatever_unit_it_was_called() -> None:
    # The sheet has the gap as 0.7 to 0.8 mm; by NIST SP 811 B.8 an inch is 25.4 mm exactly, so
    # that 28 thou are 0.7112 mm, 27 thou 0.6858 mm, and 0.8 mm are 31.496 thou.
    assert verdict("gap", "28", "thou") == ("in", None)
    assert verdict("gap", "27", "thou") == ("low", Decimal("0.56"))
    assert verdict("gap", "33", "thou") == ("high", Decimal("1.5"))


def test_the_end_of_a_window_is_in_it_in_any_unit() -> None:
    # 104 °F are 40 °C and 14 °F are -10 °C exactly (NIST SP 811 B.8).
    assert verdict("air temperature", "104", "fahrenheit") == ("in", None)
    assert verdict("air temperature", "14", "fahrenheit") == ("in", None)
    assert verdict("air temperature", "13", "fahrenheit") == ("low", Decimal("1"))


def test_a_window_may_have_one_end() -> None:
    assert verdict("compression", "400", "psi") == ("in", None)
    assert verdict("compression", "80", "psi") == ("low", Decimal("10"))


def test_without_a_figure_the_verdict_is_unknown() -> None:
    assert verdict("end play", "12", "thou") == ("unknown", None)
    assert verdict("tire pressure", "15", "psi") == ("unknown", None)
    event = Job().call(reading("gap", "30", "thou")).last(ev.ReadingRecorded)
    assert (event.verdict, event.window) == ("unknown", None)


def test_the_window_is_kept_with_the_reading_and_so_is_the_exact_value() -> None:
    event = Job(SHEET).call(reading("gap", "30.0", "thou")).last(ev.ReadingRecorded)
    assert event.window == Window(
        low=Decimal("0.7"), high=Decimal("0.8"), unit="millimeter", source="maker"
    )
    assert str(event.value) == "30.0"
    assert event.si.unit == "m"
    assert event.si.value == pytest.approx(0.000762)


def test_a_unit_of_another_kind_than_the_sheets_is_not_recorded() -> None:
    job = Job(SHEET).call(reading("gap", "30", "psi"))
    assert job.all(ev.ReadingRecorded) == []
    assert job.answers == (
        Nothing("The sheet has gap in millimeters: call it in a unit that fits."),
    )


def test_a_correction_stands_in_place_of_the_reading_in_its_unit_or_another() -> None:
    job = Job(SHEET).call(reading("gap", "30", "thou"))
    first = job.seq(ev.ReadingRecorded)
    job.call(correction("33"))
    corrected = job.last(ev.ReadingRecorded)
    assert (corrected.value, corrected.unit, corrected.verdict) == (Decimal(33), "thou", "high")
    assert corrected.corrects == first
    second = job.seq(ev.ReadingRecorded)
    job.call(correction("0.75", "millimeter"))
    assert job.last(ev.ReadingRecorded).verdict == "in"
    assert job.last(ev.ReadingRecorded).corrects == second
    # All three stay; one counts.
    assert len(job.state.readings) == 3
    assert [fact.event.value for fact in job.state.effective(job.state.readings)] == [
        Decimal("0.75")
    ]


def test_a_correction_in_a_unit_that_does_not_fit_says_so() -> None:
    job = Job(SHEET).call(reading("gap", "30", "thou"), correction("31", "psi"))
    assert len(job.all(ev.ReadingRecorded)) == 1
    assert job.answers == (Nothing("The last was gap 30 thou, which cannot be in p s i."),)


def test_a_reading_that_the_step_expects_is_ticked_off() -> None:
    job = Job(SHEET, CARD).open().call(step("done"), step("done"), step("skip"))
    assert job.state.step == "gap"
    job.call(reading("compression", "100", "psi"))
    assert not any(isinstance(answer, Ticked) for answer in job.answers)
    job.call(reading("gap", "30", "thou"))
    assert job.answers == (Ticked(left=()),)
    job.call(DISREGARD, step("done"))
    assert job.asked is not None
    assert job.asked.left == ("gap",)


def test_read_back_gives_what_counts() -> None:
    from companion.intent.intents import ReadBack

    job = Job(SHEET).call(reading("gap", "30", "thou"), correction("31"), ReadBack(subject="gap"))
    assert job.answers == (ReadBackReading("gap", Decimal(31), "thou", "in"),)
    job.call(ReadBack(subject="compression"))
    assert job.answers == (Nothing("No compression recorded yet."),)


def test_the_decision_about_a_call_knows_the_windows_in_si() -> None:
    expected = expectations(Job(SHEET).state)
    assert expected["gap"].low == pytest.approx(0.0007)
    assert expected["gap"].high == pytest.approx(0.0008)
    assert expected["gap"].unit == "m"
    assert expected["compression"].high is None
    # 20 US fluid ounces are about 591 mL (NIST SP 811 B.8: 29.57353 mL each).
    assert expected["oil"].high == pytest.approx(591.5e-6, rel=1e-3)
    assert "end play" not in expected
    assert expectations(Job().state) == {}


@given(
    value=st.decimals("0.001", "5000", places=3),
    low=st.decimals("0.001", "100", places=3),
    width=st.decimals("0", "100", places=3),
)
def test_the_verdict_does_not_depend_on_the_unit(
    value: Decimal, low: Decimal, width: Decimal
) -> None:
    window = Window(low=low, high=low + width, unit="psi", source="maker")
    here = judge(value, "psi", window, ounce="us")
    there = judge(convert_units(value, "psi", "kilopascal"), "kilopascal", window, ounce="us")
    assert here.verdict == there.verdict
    if here.beyond is not None:
        assert here.beyond > 0
        assert there.beyond is not None
        assert there.beyond > 0
