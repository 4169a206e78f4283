"""Cautions are spoken once a job, unless what calls for them comes about anew."""

from __future__ import annotations

from companion.intent.intents import Finding, TagClear, TagHang
from companion.job import events as ev
from companion.job.cautions import CAUTIONS
from tests.bench_job import (
    AFFIRM,
    CARD,
    RUNNING,
    STOPPED,
    Job,
    added,
    drained,
    reading,
    step,
    work,
)


def spoken(job: Job) -> list[str]:
    return [event.caution for event in job.events if isinstance(event, ev.CautionSpoken)]


def test_draining_within_half_an_hour_of_running_warns_of_hot_oil() -> None:
    job = Job().call(RUNNING, STOPPED).wait(minutes=29).call(drained("20"))
    assert "hot oil" in spoken(job)
    job = Job().call(RUNNING, STOPPED).wait(minutes=31).call(drained("20"))
    assert "hot oil" not in spoken(job)
    assert "hot oil" not in spoken(Job().call(drained("20")))


def test_an_engine_never_called_stopped_counts_as_hot() -> None:
    assert "hot oil" in spoken(Job().call(RUNNING).wait(hours=9).call(drained("20")))


def test_hot_oil_is_said_again_only_when_the_engine_ran_again() -> None:
    job = Job().call(RUNNING, STOPPED, drained("10")).call(drained("9"))
    assert "hot oil" not in spoken(job)
    job.call(RUNNING, STOPPED, drained("8"))
    assert "hot oil" in spoken(job)


def test_a_step_that_drains_warns_before_the_draining() -> None:
    job = Job(None, CARD).open().call(RUNNING, STOPPED, step("done"))
    assert job.state.step == "drain-oil"
    assert "hot oil" in spoken(job)


def test_running_warns_of_exhaust_once_a_job() -> None:
    job = Job().call(RUNNING)
    assert spoken(job) == ["carbon monoxide"]
    assert spoken(job.call(STOPPED, RUNNING)) == []


def test_hands_near_a_drive_with_the_plug_wire_on() -> None:
    jam = Finding(part="auger", condition="seized")
    assert "hands near" in spoken(Job().call(jam))
    assert spoken(Job().call(TagHang(tag="plug wire off"), jam)) == []
    # Once the wire is on again the danger is there anew.
    job = Job().call(jam, TagHang(tag="plug wire off"), TagClear(tag="plug wire off"), AFFIRM)
    assert "hands near" in spoken(job.call(work("greased", "auger shaft")))
    assert spoken(job.call(work("greased", "auger shaft"))) == []


def test_the_other_usual_ones() -> None:
    for call, name in (
        (added("1", "gallon", "fuel"), "fuel vapor"),
        (drained("20"), "waste"),
        (work("replaced", "recoil rope"), "springs"),
        (work("cleaned", "battery"), "battery"),
        (TagHang(tag="blocked up"), "support"),
        (work("soaked", "axle"), "solvents"),
        (work("sharpened", "blade"), "grinding"),
    ):
        assert name in spoken(Job().call(call)), name


def test_a_job_begins_with_where_the_companions_word_ends() -> None:
    job = Job().open()
    assert spoken(job) == ["limits"]
    assert "maker's manual" in job.last(ev.CautionSpoken).text
    assert spoken(job.resume()) == []


def test_ordinary_readings_call_for_none() -> None:
    assert spoken(Job().call(reading("gap", "30", "thou"))) == []


def test_every_caution_has_a_name_of_its_own_a_text_and_a_source() -> None:
    assert len({caution.name for caution in CAUTIONS}) == len(CAUTIONS)
    assert all(caution.text and caution.source for caution in CAUTIONS)
