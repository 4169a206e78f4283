"""Correction and disregard."""

from __future__ import annotations

from decimal import Decimal

from companion.intent.intents import Finding, FollowUp, Note, Part, ReadBack
from companion.job import events as ev
from companion.job.answers import Nothing
from tests.bench_job import (
    AFFIRM,
    DISREGARD,
    NEGATIVE,
    ROGER,
    Job,
    added,
    correction,
    level,
    reading,
    timer,
    work,
)


def counted(job: Job) -> list[Decimal]:
    return [fact.event.value for fact in job.state.effective(job.state.readings)]


def test_disregard_sets_the_last_record_aside_and_keeps_it_in_the_log() -> None:
    job = Job().call(reading("gap", "30", "thou"))
    seq = job.seq(ev.ReadingRecorded)
    job.call(DISREGARD)
    assert job.last(ev.Disregarded).record == seq
    assert counted(job) == []
    assert job.state.superseded == {seq: "disregarded"}
    assert job.state.set_aside is not None
    assert job.state.set_aside.seq == seq
    assert len(job.state.readings) == 1


def test_disregard_works_on_everything_that_a_call_records() -> None:
    for call, subject in (
        (added("20"), "oil"),
        (level("full"), "oil"),
        (Finding(part="shear pin", condition="broken"), "findings"),
        (work("greased", "axle"), "work"),
        (Part(intent="part.need", part="shear pin", count=2), "parts"),
        (Part(intent="part.used", part="spark plug", count=1), "parts"),
        (FollowUp(part="carburetor"), "follow ups"),
    ):
        job = Job().call(call, DISREGARD)
        assert len(job.all(ev.Disregarded)) == 1, call
        job.call(ReadBack(subject=subject))
        assert job.answers == (Nothing(f"No {subject} recorded yet."),), call
    assert len(Job().call(Note(text="x"), DISREGARD).all(ev.Disregarded)) == 1


def test_with_nothing_to_disregard_or_correct_it_says_so() -> None:
    assert Job().call(DISREGARD).answers == (Nothing("There is nothing to disregard."),)
    job = Job().call(correction("31"))
    assert job.answers == (Nothing("There is no reading and no volume to correct."),)


def test_a_second_disregard_asks_about_the_record_before() -> None:
    job = Job().call(reading("gap", "30", "thou"), work("greased", "axle"), DISREGARD, DISREGARD)
    assert counted(job) == [Decimal(30)]
    assert job.asked is not None
    assert "gap 30 thou" in (job.asked.meaning or "")
    assert counted(job.call(NEGATIVE)) == [Decimal(30)]
    assert counted(job.call(DISREGARD, AFFIRM)) == []


def test_roger_in_between_does_not_come_between() -> None:
    job = Job().call(timer("soak", minutes=1), reading("gap", "30", "thou"))
    job.wait(minutes=1).ring().call(ROGER, DISREGARD)
    assert counted(job) == []


def test_disregarding_a_correction_lets_the_first_value_stand_again() -> None:
    job = Job().call(reading("gap", "30", "thou"), correction("13"))
    first = job.seq(ev.SessionOpened) + 2
    job.call(DISREGARD)
    assert job.last(ev.Disregarded).restores == first
    assert counted(job) == [Decimal(30)]
    job.call(correction("31"))
    assert counted(job) == [Decimal(31)]
    assert job.last(ev.ReadingRecorded).corrects == first


def test_a_correction_after_a_disregarded_reading_does_not_touch_an_older_one() -> None:
    job = Job().call(reading("compression", "120", "psi"), reading("gap", "30", "thou"))
    job.call(DISREGARD, correction("31"))
    assert counted(job) == [Decimal(120)]
    assert job.answers == (Nothing("Gap 30 thou was disregarded: call it anew."),)


def test_correction_goes_to_the_last_reading_or_volume_whatever_came_since() -> None:
    job = Job().call(reading("gap", "30", "thou"), added("20"), work("greased", "axle"))
    job.call(correction("19"))
    moved = job.last(ev.FluidMoved)
    assert (moved.fluid, moved.action, moved.value, moved.unit) == (
        "oil",
        "added",
        Decimal(19),
        "ounce",
    )
    assert counted(job) == [Decimal(30)]


def test_a_volume_is_never_corrected_to_less_than_nothing() -> None:
    job = Job().call(added("12"), correction("-8"))
    assert not job.events
    assert job.answers == (
        Nothing("The last was added 12 ounces of oil, which cannot be below zero."),
    )
    assert job.last(ev.FluidMoved).value == 12
