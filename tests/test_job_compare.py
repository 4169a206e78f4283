"""Readings beside others: the last session's, the one just before, the other cylinder, and how
warm the engine should be."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.handbook.units import convert, dimension
from companion.intent.intents import ReadBack, SpecAsk
from companion.job import events as ev
from companion.job.compare import engine_wanted, family
from companion.job.remark import Apart, Changed, EngineNotAsWanted, LastTime
from companion.job.sheet import SpecReading
from companion.speak.remark_words import when_words
from companion.speak.speech import WORDS_PER_MINUTE
from companion.speak.wording import word
from tests.bench_job import MONDAY, RUNNING, SHEET, STOPPED, Job, correction, reading, work

# An invented machine with two cylinders.
TWIN: dict[str, Any] = {
    "name": "Fernhollow twin",
    "kind": "ride-on mower",
    "invented": True,
    "reading": [
        {"measure": "cylinder one compression", "unit": "psi", "low": "90"},
        {"measure": "cylinder two compression", "unit": "psi", "low": "90"},
        {"measure": "intake clearance", "unit": "thou", "low": "4", "high": "6",
         "condition": "cold"},
        {"measure": "oil pressure", "unit": "psi", "low": "30", "condition": "engine hot"},
        {"measure": "gap", "unit": "thou", "low": "28", "high": "31"},
    ],
}  # fmt: skip


def last(
    measure: str, value: str, unit: str, *, days: int = 300, verdict: ev.Verdict = "in"
) -> ev.EarlierReading:
    return ev.EarlierReading(
        measure=measure,
        value=Decimal(value),
        unit=unit,
        verdict=verdict,
        at=MONDAY - timedelta(days=days),
        session="earlier",
    )


def said(job: Job) -> str:
    reply = word(job.state, job.events, job.answers)
    assert reply is not None
    return reply.whole


def remarks(job: Job) -> tuple[Any, ...]:
    return job.last(ev.ReadingRecorded).remarks


# --- since the last session ---------------------------------------------------------------------
def test_a_change_since_the_last_session_is_said_with_when_that_was() -> None:
    # MONDAY is 4 March 2024, so that 300 days before is 9 May 2023.
    job = Job(SHEET, earlier=(last("compression", "110", "psi"),))
    job.call(reading("compression", "90", "psi"))
    assert said(job) == "Compression, ninety, nine zero, p s i. In. Down twenty since May."
    assert remarks(job) == (
        Changed(before=Decimal(110), by=Decimal(-20), at=MONDAY - timedelta(days=300), days=300),
    )


def test_a_small_change_is_not_worth_saying() -> None:
    job = Job(SHEET, earlier=(last("compression", "110", "psi"),))
    job.call(reading("compression", "105", "psi"))
    assert remarks(job) == ()


def test_out_now_where_it_was_in_is_said_however_small() -> None:
    job = Job(SHEET, earlier=(last("compression", "91", "psi"),))
    job.call(reading("compression", "89", "psi"))
    assert said(job).endswith("Low by one. Down two since May.")


def test_a_change_is_in_the_unit_called_now() -> None:
    # 110 psi are 758.4 kPa (NIST SP 811 B.8: 6.894757 kPa each), 600 kPa less 158.4.
    job = Job(SHEET, earlier=(last("compression", "110", "psi"),))
    job.call(reading("compression", "600", "kilopascal"))
    (changed,) = remarks(job)
    assert (changed.before, changed.by) == (Decimal("758.4"), Decimal("-158.4")) or (
        changed.before,
        changed.by,
    ) == (Decimal(758), Decimal(-158))


def test_a_change_is_said_once_and_again_after_a_correction_of_that_reading() -> None:
    job = Job(SHEET, earlier=(last("compression", "120", "psi"),))
    job.call(reading("compression", "100", "psi"), reading("compression", "99", "psi"))
    assert remarks(job) == ()
    job.call(correction("101"))
    assert remarks(job) == ()
    job = Job(SHEET, earlier=(last("compression", "120", "psi"),))
    job.call(reading("compression", "100", "psi"), correction("105"))
    assert said(job).startswith("Corrected: compression, one hundred five p s i.")
    assert said(job).endswith("Down fifteen since May.")


def test_torque_and_temperature_are_not_compared_with_last_time() -> None:
    job = Job(SHEET, earlier=(last("air temperature", "5", "celsius"),))
    job.call(reading("air temperature", "30", "celsius"))
    assert remarks(job) == ()


@pytest.mark.parametrize(
    ("days", "when"),
    [
        (0, "earlier today"),
        (1, "yesterday"),
        (13, "thirteen days ago"),
        (21, "three weeks ago"),
        (90, "in December"),
        (300, "in May"),
        (360, "in March last year"),
        (800, "two years ago"),
    ],
)
def test_how_long_ago_is_told_as_a_person_would(days: int, when: str) -> None:
    assert when_words(MONDAY - timedelta(days=days), days) == when


# --- figures nobody knows -----------------------------------------------------------------------
def test_what_the_maker_does_not_give_is_remembered_and_marked_so() -> None:
    job = Job(SHEET, earlier=(last("end play", "12", "thou", days=5, verdict="unknown"),))
    job.call(SpecAsk(measure="end play"))
    assert said(job) == "End play, not from the maker: five days ago, twelve thou."
    job.call(reading("end play", "14", "thou"))
    assert said(job) == (
        "End play, fourteen, one four, thou. Not from the maker: five days ago, twelve thou."
    )
    assert remarks(job) == (
        LastTime(value=Decimal(12), unit="thou", at=MONDAY - timedelta(days=5), days=5),
    )
    # From now on the newer one is what is known; it is still not the maker's.
    job.call(SpecAsk(measure="end play"))
    assert said(job) == "End play, not from the maker: earlier today, fourteen, one four, thou."


def test_the_makers_figure_is_said_and_not_what_was_read() -> None:
    job = Job(SHEET, earlier=(last("compression", "110", "psi"),))
    job.call(SpecAsk(measure="compression"))
    assert said(job) == "Compression, at least ninety, nine zero, p s i."


def test_reading_back_gives_the_last_value_and_the_earlier_sessions() -> None:
    job = Job(SHEET, earlier=(last("gap", "34", "thou", verdict="high"),))
    job.call(ReadBack(subject="gap"))
    assert said(job) == "No gap recorded in this job. In May, thirty four thou."
    job.call(reading("gap", "30", "thou"), ReadBack(subject="gap"))
    assert said(job) == "Gap, thirty, three zero, thou. In. In May, thirty four thou."


# --- the one just before, and the other cylinder ------------------------------------------------
def test_two_readings_in_a_row_that_disagree() -> None:
    job = Job(SHEET).call(reading("compression", "120", "psi"), reading("compression", "96", "psi"))
    assert said(job) == ("Compression, ninety six p s i. In. Twenty percent off the one before.")
    assert remarks(job) == (Apart(value=Decimal(120), percent=20),)


def test_two_that_agree_or_were_put_right_in_between_need_no_word() -> None:
    job = Job(SHEET).call(
        reading("compression", "120", "psi"), reading("compression", "112", "psi")
    )
    assert remarks(job) == ()
    job = Job(SHEET).call(reading("gap", "40", "thou"), reading("gap", "30", "thou"))
    assert remarks(job) == ()
    worked = work("cleaned", "carburetor")
    job = Job(SHEET).call(
        reading("compression", "120", "psi"), worked, reading("compression", "96", "psi")
    )
    assert remarks(job) == ()


def test_a_correction_is_not_compared_with_what_it_corrects() -> None:
    job = Job(SHEET).call(reading("compression", "120", "psi"), correction("95"))
    assert remarks(job) == ()


def test_cylinders_more_than_a_tenth_apart_are_told() -> None:
    job = Job(TWIN).call(
        reading("cylinder one compression", "120", "psi"),
        reading("cylinder two compression", "110", "psi"),
    )
    assert remarks(job) == ()
    job.call(reading("cylinder two compression", "690", "kilopascal"))
    # 690 kPa are 100.1 psi; a sixth below 120.
    assert "Seventeen percent off cylinder one compression." in said(job)


@pytest.mark.parametrize(
    ("measure", "of"),
    [
        ("cylinder one compression", "compression"),
        ("compression two", "compression"),
        ("left cylinder compression", "compression"),
        ("compression", None),
        ("cylinder one", None),
    ],
)
def test_which_measures_are_of_one_kind(measure: str, of: str | None) -> None:
    assert family(measure) == of


# --- cold and hot -------------------------------------------------------------------------------
def test_a_cold_figure_read_on_a_hot_engine() -> None:
    job = Job(TWIN).call(RUNNING, STOPPED).wait(minutes=10)
    job.call(reading("intake clearance", "5", "thou"))
    assert said(job) == ("Intake clearance, five thou. In. Wanted cold: the engine counts as hot.")
    job.wait(hours=3).call(reading("intake clearance", "5", "thou"))
    assert remarks(job) == ()


def test_a_hot_figure_read_on_an_engine_that_was_not_called_running() -> None:
    job = Job(TWIN).call(reading("oil pressure", "40", "psi"))
    assert remarks(job) == (EngineNotAsWanted(wanted="hot"),)
    job = Job(TWIN).call(RUNNING).wait(minutes=1).call(reading("oil pressure", "40", "psi"))
    assert remarks(job) == ()


@pytest.mark.parametrize(
    ("condition", "wanted"),
    [("cold", "cold"), ("engine cold, piston up", "cold"), ("warm", "hot"), ("no load", None),
     (None, None)],
)  # fmt: skip
def test_the_sheets_condition_says_how_warm(condition: str | None, wanted: str | None) -> None:
    spec = SpecReading(measure="gap", unit="thou", condition=condition)
    assert engine_wanted(spec) == wanted


# --- whatever the unit --------------------------------------------------------------------------
UNITS_OF = {"pressure": ("psi", "kilopascal", "bar"), "length": ("thou", "inch", "millimeter")}


@given(
    value=st.decimals("10", "300", places=1),
    before=st.decimals("10", "300", places=1),
    measure=st.sampled_from(["compression", "intake clearance", "end play"]),
    data=st.data(),
)
@settings(deadline=None)
def test_what_is_remarked_does_not_depend_on_the_unit(
    value: Decimal, before: Decimal, measure: str, data: st.DataObject
) -> None:
    unit = "psi" if measure == "compression" else "thou"
    other = data.draw(st.sampled_from(UNITS_OF[dimension(unit)]))
    earlier = (last(measure, str(before), unit),)
    here = Job(SHEET, earlier=earlier).call(reading(measure, str(value), unit))
    there = Job(SHEET, earlier=earlier).call(
        reading(measure, format(convert(value, unit, other), "f"), other)
    )
    assert here.last(ev.ReadingRecorded).verdict == there.last(ev.ReadingRecorded).verdict
    kinds = [[remark.about for remark in remarks(job)] for job in (here, there)]
    assert kinds[0] == kinds[1]


def test_the_fullest_readback_stays_below_eight_seconds() -> None:
    job = Job(TWIN, earlier=(last("intake clearance", "13", "thou", days=360),)).call(
        RUNNING, STOPPED, reading("intake clearance", "3", "thou")
    )
    job.call(reading("intake clearance", "13", "thou"))
    assert len(said(job).split()) / WORDS_PER_MINUTE * 60 < 8
