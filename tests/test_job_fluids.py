"""Fluids, levels, and the tag that draining hangs by itself."""

from __future__ import annotations

from decimal import Decimal

import pytest

from companion.intent.intents import ReadBack, TagClear, TagHang
from companion.job import events as ev
from companion.job.answers import Nothing, ReadBackFluid, TagStays
from tests.bench_job import (
    AFFIRM,
    CLEAR_TO_START,
    DISREGARD,
    NEGATIVE,
    SHEET,
    Job,
    added,
    correction,
    drained,
    level,
    reading,
)


def test_draining_oil_hangs_no_oil_by_itself() -> None:
    job = Job().call(drained("0.5", "liter"))
    assert job.tags == ["no oil"]
    assert job.last(ev.TagHung).by == "implied"
    assert job.hung_for == "oil was drained"


def test_draining_fuel_hangs_no_fuel_and_filling_asks_to_clear_it() -> None:
    job = Job().call(drained("1", "pint", "fuel"))
    assert job.tags == ["no fuel"]
    job.call(added("1", "pint", "fuel"))
    assert job.asked is not None
    assert job.asked.tag == "no fuel"
    assert job.call(AFFIRM).tags == []


def test_fill_and_level_full_ask_and_only_affirm_takes_the_tag_down() -> None:
    job = Job().call(drained("20"), added("20"))
    assert job.asked is None
    job.call(level("full"))
    assert job.asked is not None
    assert (job.asked.about, job.asked.tag) == ("clear-tag", "no oil")
    assert job.question == (
        "Oil was drained. Twenty ounces added since, oil level called full. Clear tag no oil?"
    )
    assert job.tags == ["no oil"]
    assert job.call(AFFIRM).tags == []


def test_the_level_may_be_called_before_the_filling_is() -> None:
    job = Job().call(drained("20"), level("full"))
    assert job.asked is None
    job.call(added("20"))
    assert job.asked is not None
    assert job.asked.tag == "no oil"


def test_negative_keeps_the_tag_and_it_can_be_asked_for_later() -> None:
    job = Job().call(drained("20"), added("20"), level("full"), NEGATIVE)
    assert job.tags == ["no oil"]
    assert job.call(TagClear(tag="no oil"), AFFIRM).tags == []


@pytest.mark.parametrize(
    "calls",
    [
        [],
        [added("20")],
        [level("full")],
        [added("20"), level("low")],
        [added("20"), level("full"), level("over")],
        [added("0"), level("full")],
        [added("20"), level("full"), drained("20")],
        # Filled, drained again almost whole, and never filled after that.
        [added("20"), drained("19"), level("full")],
    ],
)
def test_no_oil_stays_with_the_reason_while_fill_or_level_is_missing(calls: list) -> None:
    job = Job().call(drained("20"), *calls, TagClear(tag="no oil"))
    assert job.asked is None
    assert isinstance(job.answers[-1], TagStays)
    assert "no oil stays" in job.said
    assert job.call(AFFIRM, CLEAR_TO_START, AFFIRM).tags == ["no oil"]
    assert job.all(ev.StartAffirmed) == []


def test_the_reason_names_what_is_missing() -> None:
    job = Job().call(drained("20"), TagClear(tag="no oil"))
    assert job.said == (
        "Tag no oil stays: oil was drained, none was called added, and its level not called full."
    )
    job.call(added("20"), TagClear(tag="no oil"))
    assert job.said == (
        "Tag no oil stays: oil level has not been called full since it was drained."
    )


def test_letting_out_what_was_too_much_is_no_new_draining() -> None:
    job = Job().call(drained("20"), added("23"), level("over"), drained("2"), level("full"))
    assert "Twenty one ounces added since" in job.question
    assert job.call(AFFIRM).tags == []


def test_too_much_in_a_machine_as_it_came_is_let_out_against_the_sheets_capacity() -> None:
    job = Job(SHEET).call(level("over"))
    assert job.tags == ["no oil"]
    job.call(drained("3"), level("full"))
    assert job.asked is not None
    # More than half the sump is more than what was too much: that was a draining.
    job = Job(SHEET).call(level("over"), drained("11"), level("full"))
    assert job.asked is None


@pytest.mark.parametrize("called", ["low", "over"])
def test_a_level_that_is_not_full_hangs_the_tag(called: str) -> None:
    job = Job().call(level(called))
    assert job.tags == ["no oil"]
    assert job.hung_for == f"oil level was last called {called}"
    job.call(level("full"))
    assert job.asked is not None
    assert job.call(AFFIRM).tags == []


def test_gear_oil_hangs_a_tag_of_its_own() -> None:
    assert Job().call(drained("8", fluid="gear oil")).tags == ["no gear oil"]


def test_without_a_name_the_fluid_named_last_is_meant() -> None:
    job = Job().call(drained("20"), added("19"), added("1", fluid=None))
    assert job.last(ev.FluidMoved).fluid == "oil"
    job.call(level("full", "coolant"), added("2", fluid=None))
    assert job.last(ev.FluidMoved).fluid == "coolant"


def test_without_a_name_and_with_none_before_it_asks_which() -> None:
    job = Job().call(added("1", fluid=None))
    assert job.answers == (Nothing("Which fluid? Call it again with its name."),)
    assert job.all(ev.FluidMoved) == []


def test_read_back_adds_up_in_the_unit_used_last() -> None:
    job = Job(SHEET).call(
        drained("0.5", "liter"), added("15"), added("4.5"), ReadBack(subject="oil")
    )
    # Half a liter is 16.9 US fluid ounces (NIST SP 811 B.8: 29.57353 mL each).
    assert job.answers == (
        ReadBackFluid(
            fluid="oil",
            drained=Decimal("16.9"),
            added=Decimal("19.5"),
            unit="ounce",
            to_capacity=Decimal("0.5"),
            level=None,
            percent=98,
        ),
    )


def test_how_much_more_it_takes_is_unknown_unless_it_was_drained() -> None:
    job = Job(SHEET).call(added("2"), ReadBack(subject="oil"))
    answer = job.answers[0]
    assert isinstance(answer, ReadBackFluid)
    assert answer.to_capacity is None


def test_a_correction_of_a_filling_counts_in_its_place() -> None:
    job = Job(SHEET).call(drained("20"), added("2"), correction("20"), ReadBack(subject="oil"))
    answer = job.answers[0]
    assert isinstance(answer, ReadBackFluid)
    assert (answer.added, answer.to_capacity) == (Decimal(20), Decimal(0))


def test_disregarding_the_level_hangs_the_tag_again() -> None:
    job = Job().call(drained("20"), added("20"), level("full"), AFFIRM)
    assert job.tags == []
    job.call(DISREGARD)
    # The last thing done was taking the tag down, so that the level is asked about first.
    assert job.asked is not None
    assert job.asked.about == "disregard"
    job.call(AFFIRM)
    assert job.tags == ["no oil"]
    assert job.last(ev.TagHung).by == "implied"


def test_a_filling_corrected_to_nothing_hangs_the_tag_again() -> None:
    job = Job().call(drained("20"), added("20"), level("full"), AFFIRM, correction("0"))
    assert job.tags == ["no oil"]


def test_disregarding_the_draining_asks_before_the_tag_comes_down() -> None:
    job = Job().call(drained("20"), DISREGARD)
    assert job.tags == ["no oil"]
    assert job.question == (
        "Oil was drained, which was taken back. Oil level not called. Clear tag no oil?"
    )
    assert job.call(AFFIRM).tags == []


def test_a_tag_hung_by_a_call_before_anything_was_drained_is_left_to_the_person() -> None:
    job = Job().call(TagHang(tag="no oil"), level("full"), reading("gap", "30", "thou"))
    assert job.asked is None
    assert job.tags == ["no oil"]
