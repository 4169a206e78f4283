"""What hangs a tag by itself, and what a part still off, open or loose means for the gate."""

from __future__ import annotations

import pytest

from companion.intent.intents import Finding, TagClear, TagHang, TagList
from companion.job import events as ev
from companion.job.answers import EngineLeftRunning, StandingOpen, TagStays
from companion.job.reason import Checked
from companion.speak.wording import word
from tests.bench_job import (
    AFFIRM,
    CLEAR_TO_START,
    DISREGARD,
    NEGATIVE,
    RUNNING,
    STOPPED,
    Job,
    added,
    correction,
    drained,
    level,
    plain,
    step,
    work,
)


@pytest.mark.parametrize(
    ("opened", "part", "tag", "undone"),
    [
        ("removed", "plug wire", "plug wire off", "installed"),
        ("disconnected", "plug wire", "plug wire off", "connected"),
        ("removed", "reverse belt", "belt off", "replaced"),
        ("removed", "drive chain", "drive open", "installed"),
        ("removed", "shear pin", "drive open", "replaced"),
        ("removed", "blade", "drive open", "installed"),
        ("removed", "auger", "drive open", "installed"),
        ("removed", "idler pulley", "drive open", "installed"),
        ("removed", "belt guard", "guard off", "installed"),
        ("disconnected", "battery", "battery off", "connected"),
        ("closed", "fuel valve", "fuel off", "opened"),
        ("disconnected", "fuel line", "fuel off", "connected"),
        ("raised", "machine", "blocked up", "lowered"),
        ("loosened", "handle bolt", "bolts loose", "tightened"),
        ("removed", "engine bolt", "bolts loose", "tightened"),
    ],
)
def test_work_hangs_its_tag_and_undoing_it_asks(
    opened: str, part: str, tag: str, undone: str
) -> None:
    job = Job().call(work(opened, part))
    assert job.tags == [tag]
    job.call(work(undone, part))
    assert job.tags == [tag]
    assert job.asked is not None
    assert (job.asked.about, job.asked.tag) == ("clear-tag", tag)
    assert job.call(AFFIRM).tags == []


# --- several parts under one tag ----------------------------------------------------------------


def test_a_tag_names_every_part_that_is_still_off() -> None:
    job = Job().call(work("removed", "drive belt"), work("removed", "reverse belt"), TagList())
    assert job.said == "One tag hangs. Belt off: drive belt and reverse belt were removed."


def test_one_part_back_asks_nothing_while_another_is_off() -> None:
    job = Job().call(work("removed", "drive belt"), work("removed", "reverse belt"))
    job.call(work("installed", "drive belt"))
    assert job.asked is None
    assert job.said == "Installed drive belt. Still: reverse belt was removed."
    assert job.call(work("installed", "reverse belt"), AFFIRM).tags == []


def test_a_tag_stays_however_often_it_is_affirmed_until_its_part_is_called_back() -> None:
    job = Job().call(work("removed", "drive belt"), TagClear(tag="belt off"))
    assert job.asked is None
    assert job.said == "Tag belt off stays: drive belt was removed and not called installed."
    assert job.call(AFFIRM, TagClear(tag="belt off"), AFFIRM).tags == ["belt off"]
    # And the other way round: called back, it still waits for its "affirm".
    job.call(work("installed", "drive belt"), NEGATIVE, CLEAR_TO_START)
    assert job.tags == ["belt off"]
    assert job.asked is None
    assert job.call(TagClear(tag="belt off"), AFFIRM).tags == []


def test_a_part_called_back_under_another_name_is_not_back() -> None:
    job = Job().call(work("removed", "belt guard"), work("installed", "guard"))
    assert job.asked is None
    assert job.tags == ["guard off"]


# --- bolts left loose ---------------------------------------------------------------------------


def test_bolts_left_loose_stay_tagged_until_each_is_called_tight() -> None:
    job = Job().call(work("loosened", "handle bolt"), work("loosened", "deck bolt"))
    assert job.tags == ["bolts loose"]
    job.call(work("tightened", "deck bolt"))
    assert job.asked is None
    assert any(isinstance(answer, StandingOpen) for answer in job.answers)
    assert job.said == "Tightened deck bolt. Still: handle bolt was loosened."
    job.call(TagClear(tag="bolts loose"))
    assert isinstance(job.answers[0], TagStays)
    assert job.said == ("Tag bolts loose stays: handle bolt was loosened and not called tightened.")
    job.call(AFFIRM)
    assert job.tags == ["bolts loose"]
    job.call(CLEAR_TO_START)
    assert job.against_start == ("tag bolts loose: handle bolt was loosened",)
    assert job.call(work("tightened", "handle bolt"), AFFIRM).tags == []
    assert job.call(CLEAR_TO_START, AFFIRM).all(ev.StartAffirmed)


def test_a_tightening_that_is_disregarded_leaves_the_bolt_loose() -> None:
    job = Job().call(work("loosened", "handle bolt"), work("tightened", "handle bolt"), AFFIRM)
    assert job.tags == []
    job.call(DISREGARD, AFFIRM)
    assert job.tags == ["bolts loose"]


def test_loosened_again_is_loose_again() -> None:
    job = Job().call(work("loosened", "handle bolt"), work("tightened", "handle bolt"), AFFIRM)
    assert job.call(work("loosened", "handle bolt")).tags == ["bolts loose"]


def test_tightening_what_was_never_loosened_asks_nothing() -> None:
    job = Job().call(work("tightened", "drain plug"))
    assert (job.asked, job.tags) == (None, [])


# --- findings that keep the gate shut -----------------------------------------------------------


def test_a_bolt_found_loose_keeps_the_gate_shut_until_it_is_tightened() -> None:
    job = Job().call(Finding(part="handle bolt", condition="loose"), CLEAR_TO_START)
    assert job.tags == []
    assert job.asked is None
    assert job.against_start == ("handle bolt was called loose and not called mended",)
    job.call(work("tightened", "handle bolt"), CLEAR_TO_START)
    assert job.asked is not None
    assert job.asked.about == "start"


@pytest.mark.parametrize(
    ("part", "condition", "mended"),
    [
        ("fuel line", "leaking", "replaced"),
        ("blade", "cracked", "replaced"),
        ("throttle cable", "sticking", "oiled"),
    ],
)
def test_other_findings_that_keep_it_shut(part: str, condition: str, mended: str) -> None:
    job = Job().call(Finding(part=part, condition=condition), CLEAR_TO_START)
    assert job.asked is None
    assert job.call(work(mended, part), CLEAR_TO_START).asked is not None


def test_a_finding_that_is_disregarded_keeps_nothing_shut() -> None:
    job = Job().call(Finding(part="handle bolt", condition="loose"), DISREGARD, CLEAR_TO_START)
    assert job.asked is not None


def test_a_worn_belt_does_not_keep_it_shut_and_a_broken_shear_pin_does() -> None:
    job = Job().call(Finding(part="drive belt", condition="worn"), CLEAR_TO_START)
    assert job.asked is not None
    job = Job().call(Finding(part="shear pin", condition="broken"), CLEAR_TO_START)
    assert job.asked is None
    assert job.call(work("replaced", "shear pin"), CLEAR_TO_START).asked is not None


def test_what_is_still_found_is_told_when_another_part_of_it_is_mended() -> None:
    loose = Finding(part="handle bolt", condition="loose", count=2)
    job = Job().call(loose, work("tightened", "handle bolt"))
    assert job.said == "Tightened handle bolt. Still: one of two handle bolts was called loose."


def test_running_against_a_loose_bolt_is_answered_with_a_warning() -> None:
    job = Job().call(Finding(part="handle bolt", condition="loose"), RUNNING)
    (reason,) = job.last(ev.EngineRunning).reasons
    assert (reason.name, reason.what) == ("handle bolt", "loose")
    reply = word(job.state, job.events, job.answers)
    assert reply is not None
    assert reply.tone == "warning"
    assert reply.text.startswith("Stop the engine. Handle bolt was called loose")


# --- what the gate tells ------------------------------------------------------------------------


def test_the_gate_says_what_was_checked_as_well_as_what_was_not() -> None:
    job = Job().call(drained("20"), added("20"), level("full"), AFFIRM, CLEAR_TO_START)
    assert job.last(ev.StartChecked).known == Checked(full=("oil",), cleared=("no oil",))
    assert job.question.startswith(
        "No tag hangs. Checked: oil level full, one tag cleared. Not checked: guards,"
    )


def test_what_was_cleared_for_an_earlier_start_is_not_told_again() -> None:
    job = Job().call(TagHang(tag="fuel off"), TagClear(tag="fuel off"), AFFIRM)
    job.call(CLEAR_TO_START, AFFIRM, CLEAR_TO_START)
    assert job.last(ev.StartChecked).known == Checked(unknown=("oil",))


def test_a_shut_gate_reads_reasons_then_what_was_and_was_not_checked() -> None:
    job = Job().call(level("full"), work("removed", "plug wire"), CLEAR_TO_START)
    reply = word(job.state, job.events, job.answers)
    assert reply is not None
    assert reply.tone == "warning"
    assert reply.text == (
        "Do not start. Tag plug wire off: plug wire was removed. Checked: oil level full."
    )
    job = Job().call(work("removed", "plug wire"), CLEAR_TO_START)
    reply = word(job.state, job.events, job.answers)
    assert reply is not None
    assert reply.text.endswith("plug wire was removed. Not checked: oil level.")


# --- an engine that runs while a tag hangs ------------------------------------------------------


def test_a_tag_that_hangs_itself_while_the_engine_runs_warns_at_once() -> None:
    job = Job().call(RUNNING, drained("20"))
    reply = word(job.state, job.events, job.answers)
    assert reply is not None
    assert reply.tone == "warning"
    assert reply.text.startswith("Stop the engine: it was called running")
    job.call(STOPPED, work("removed", "guard"))
    assert all(not isinstance(answer, EngineLeftRunning) for answer in job.answers)


def test_after_a_restart_an_engine_left_running_is_the_first_thing_said() -> None:
    job = Job().call(TagHang(tag="fuel off"), RUNNING).resume()
    reply = word(job.state, job.events, job.answers)
    assert reply is not None
    assert reply.tone == "warning"
    assert reply.text.startswith("The engine was called running, with fuel off tagged. Stop it")
    assert job.call(RUNNING).last(ev.EngineRunning).against == ("fuel off",)


@pytest.mark.parametrize("call", ["standby", "job.park"])
def test_an_engine_that_runs_is_answered_whatever_state_the_job_is_in(call: str) -> None:
    job = Job().call(TagHang(tag="fuel off"), plain(call), RUNNING)
    assert job.last(ev.EngineRunning).against == ("fuel off",)


# --- affirm -------------------------------------------------------------------------------------


def test_a_doubtful_affirm_never_clears() -> None:
    job = Job().call(TagHang(tag="fuel off"), TagClear(tag="fuel off"))
    job.doubt(AFFIRM, NEGATIVE)
    assert job.tags == ["fuel off"]
    assert job.asked is not None
    assert job.asked.tag == "fuel off"
    assert job.call(AFFIRM).tags == []


def test_an_affirm_after_a_timer_rang_asks_again_first() -> None:
    job = Job().call(TagHang(tag="fuel off"), TagHang(tag="blocked up"))
    job.call(TagClear(tag="fuel off"))
    job.keep(ev.TimerRang(name="soak", count=1))
    assert job.call(AFFIRM).tags == ["fuel off", "blocked up"]
    assert job.call(AFFIRM).tags == ["blocked up"]


def test_an_affirm_takes_nothing_down_for_which_a_part_came_off_in_between() -> None:
    job = Job().call(work("removed", "drive belt"), work("installed", "drive belt"))
    job.keep(ev.WorkRecorded(action="removed", part="reverse belt"))
    job.call(AFFIRM)
    assert job.tags == ["belt off"]
    # The belt that came off in between is not called back.
    assert job.said == "Tag belt off stays: reverse belt was removed and not called installed."
    assert job.call(work("installed", "reverse belt"), AFFIRM).tags == []


def test_tags_that_a_step_clears_are_asked_about_one_by_one() -> None:
    tags = ("fuel off", "blocked up", "guard off")
    closing = {"name": "close", "say": "Close up.", "clears": list(tags)}
    card = {"name": "x", "title": "X", "step": [closing, {"name": "end", "say": "Look."}]}
    job = Job(None, card).open().call(*(TagHang(tag=tag) for tag in tags), step("done"))
    assert job.asked is not None
    assert job.asked.tag == "fuel off"
    # What came off in between is told, and the next is asked about.
    job.keep(ev.WorkRecorded(action="closed", part="fuel valve"))
    job.call(AFFIRM)
    assert job.tags == list(tags)
    assert "Tag fuel off stays: fuel valve was closed and not called opened." in job.said
    assert job.asked is not None
    assert job.asked.tag == "blocked up"
    assert job.call(AFFIRM).tags == ["fuel off", "guard off"]
    assert job.asked is not None
    assert job.asked.tag == "guard off"
    assert job.call(NEGATIVE).tags == ["fuel off", "guard off"]
    assert job.state.step == "end"


def test_a_draining_corrected_to_nothing_asks_before_its_tag_comes_down() -> None:
    job = Job().call(drained("20"), correction("0"))
    assert job.tags == ["no oil"]
    assert job.asked is not None
    assert job.asked.tag == "no oil"
    assert "which was taken back" in job.question
    assert job.call(AFFIRM).tags == []
    # And the other way round: what turns out to have been drained hangs the tag again.
    assert job.call(correction("5")).tags == ["no oil"]
