"""Tags, the start gate, an engine that runs, and closing a job."""

from __future__ import annotations

import pytest

from companion.grammar.compiled import load_grammar
from companion.intent.intents import Finding, TagClear, TagHang, TagList
from companion.job import events as ev
from companion.job.answers import Nothing, Refused, TagsHanging
from companion.job.reason import Checked
from companion.job.sheet import SpecFluid, SpecSheet
from companion.shelf.words import vocabulary_of
from companion.speak.reason_words import reasons_words
from tests.bench_job import (
    AFFIRM,
    CARD,
    CLEAR_TO_START,
    DISREGARD,
    NEGATIVE,
    RUNNING,
    SHEET,
    STOPPED,
    Job,
    added,
    drained,
    level,
    plain,
    step,
    timer,
    work,
)


def test_a_tag_hangs_when_called_and_is_listed_the_oldest_first() -> None:
    job = Job().call(TagHang(tag="blocked up"), work("removed", "plug wire"), TagList())
    (answer,) = job.answers
    assert isinstance(answer, TagsHanging)
    assert [(tag, reasons_words(why)) for tag, why in answer.tags] == [
        ("blocked up", "hung by a call"),
        ("plug wire off", "plug wire was removed"),
    ]


def test_a_tag_that_hangs_already_is_not_hung_twice() -> None:
    job = Job().call(TagHang(tag="fuel off"), TagHang(tag="fuel off"))
    assert len(job.all(ev.TagHung)) == 1
    assert job.answers == (Nothing("Tag fuel off hangs already."),)


def test_clearing_asks_and_acts_on_affirm_only() -> None:
    job = Job().call(TagHang(tag="fuel off"), TagClear(tag="fuel off"))
    assert job.question == "Hung by a call. Affirm if that is over. Clear tag fuel off?"
    assert job.call(NEGATIVE).tags == ["fuel off"]
    assert job.call(TagClear(tag="fuel off"), AFFIRM).tags == []
    assert [event.tag for event in job.all(ev.TagCleared)] == ["fuel off"]


def test_any_other_call_leaves_the_tag_hanging() -> None:
    job = Job().call(TagHang(tag="fuel off"), TagClear(tag="fuel off"), TagList(), AFFIRM)
    assert job.tags == ["fuel off"]
    assert job.all(ev.Answered)[0].answer == "replaced"
    assert job.answers == (Nothing("No question is open."),)


def test_clearing_a_tag_that_does_not_hang_says_so() -> None:
    job = Job().call(TagClear(tag="no oil"))
    assert job.answers == (Nothing("Tag no oil does not hang."),)


@pytest.mark.parametrize(
    ("part", "tag"),
    [
        ("plug wire", "plug wire off"),
        ("drive belt", "belt off"),
        ("reverse belt", "belt off"),
        ("guard", "guard off"),
        ("belt guard", "guard off"),
        ("battery", "battery off"),
    ],
)
def test_removing_hangs_a_tag_and_fitting_asks_to_clear_it(part: str, tag: str) -> None:
    job = Job().call(work("removed", part))
    assert job.tags == [tag]
    job.call(work("installed", part))
    assert job.tags == [tag]
    assert job.asked is not None
    assert job.asked.tag == tag
    assert job.call(AFFIRM).tags == []


def test_a_missing_guard_hangs_its_tag_as_well() -> None:
    job = Job().call(Finding(part="guard", condition="missing"))
    assert job.tags == ["guard off"]


def test_a_tag_that_hangs_by_itself_can_be_called_to_clear_it() -> None:
    sheet = SpecSheet(name="x", kind="x", fluid=(SpecFluid(name="coolant"),))
    grammar = load_grammar(vocabulary_of(None, sheet))
    for tag in ("belt off", "guard off", "battery off", "no oil", "no fuel", "no coolant"):
        assert grammar.parse(("clear", "tag", *tag.split())), tag


def test_fitting_what_no_tag_hangs_for_asks_nothing() -> None:
    assert Job().call(work("installed", "drive belt")).asked is None


def test_the_gate_stays_shut_while_a_tag_hangs_and_says_why() -> None:
    job = Job().call(work("removed", "plug wire"), drained("20"), CLEAR_TO_START)
    checked = job.last(ev.StartChecked)
    assert checked.standing == ("plug wire off", "no oil")
    assert job.against_start == (
        "tag plug wire off: plug wire was removed",
        "tag no oil: oil was drained, none was called added, and its level not called full",
    )
    assert job.asked is None
    job.call(AFFIRM)
    assert job.all(ev.StartAffirmed) == []


def test_the_gate_asks_when_no_tag_hangs_and_names_what_it_did_not_check() -> None:
    job = Job().call(CLEAR_TO_START)
    checked = job.last(ev.StartChecked)
    assert checked.standing == ()
    assert checked.reasons == ()
    assert job.asked is not None
    assert job.asked.about == "start"
    assert job.question == (
        "No tag hangs. Checked: nothing. "
        "Not checked: oil level, guards, controls, fuel leaks, people near. Clear to start?"
    )
    assert job.all(ev.StartAffirmed) == []
    job.call(AFFIRM)
    assert len(job.all(ev.StartAffirmed)) == 1


def test_a_level_that_was_called_is_checked_until_something_is_added() -> None:
    job = Job().call(level("full"), CLEAR_TO_START)
    assert job.last(ev.StartChecked).known == Checked(full=("oil",))
    job.call(NEGATIVE, added("1"), CLEAR_TO_START)
    assert job.last(ev.StartChecked).known == Checked(unknown=("oil",))


def test_a_machine_without_a_sump_has_no_oil_level_to_check() -> None:
    sheet = {"name": "Tumblewick blower", "kind": "blower", "fluid": [{"name": "two stroke mix"}]}
    job = Job(sheet).call(CLEAR_TO_START)
    assert job.last(ev.StartChecked).known == Checked()


def test_steps_that_are_left_are_named_as_not_checked() -> None:
    job = Job(SHEET, CARD).call(CLEAR_TO_START)
    assert "five steps of the card" in job.said


def test_negative_at_the_gate_starts_nothing() -> None:
    job = Job().call(CLEAR_TO_START, NEGATIVE, AFFIRM)
    assert job.all(ev.StartAffirmed) == []


def test_the_gate_is_shut_while_the_engine_runs() -> None:
    job = Job().call(RUNNING, CLEAR_TO_START)
    assert job.asked is None
    assert job.against_start == ("the engine was called running and not called stopped",)
    assert job.call(STOPPED, CLEAR_TO_START).asked is not None


def test_an_engine_that_runs_against_a_tag_is_recorded_with_it() -> None:
    job = Job().call(TagHang(tag="guard off"), RUNNING)
    assert job.last(ev.EngineRunning).against == ("guard off",)
    assert job.tags == ["guard off"]


def test_a_running_engine_is_called_stopped_never_disregarded() -> None:
    job = Job().call(TagHang(tag="fuel off"), RUNNING, DISREGARD)
    assert job.state.engine_running
    assert isinstance(job.answers[0], Refused)
    assert job.asked is None


def test_disregard_does_not_take_a_tag_down() -> None:
    job = Job().call(TagHang(tag="fuel off"), DISREGARD)
    assert job.tags == ["fuel off"]
    assert job.asked is not None
    assert (job.asked.about, job.asked.tag) == ("clear-tag", "fuel off")
    assert job.call(AFFIRM).tags == []


def test_work_disregarded_leaves_its_tag_until_affirm() -> None:
    job = Job().call(work("removed", "guard"), DISREGARD)
    assert job.tags == ["guard off"]
    assert job.asked is not None
    assert job.call(AFFIRM).tags == []


def test_fitting_disregarded_hangs_the_tag_again() -> None:
    job = Job().call(work("removed", "guard"), work("installed", "guard"), AFFIRM, DISREGARD)
    assert job.tags == []
    job.call(AFFIRM)
    assert job.tags == ["guard off"]
    assert job.hung_for == "installed guard was disregarded"
    job.call(CLEAR_TO_START)
    assert job.against_start == ("tag guard off: guard was removed",)


def test_closing_with_tags_needs_an_affirm_that_names_them() -> None:
    job = Job().call(TagHang(tag="fuel off"), plain("job.close"))
    assert job.asked is not None
    assert (job.asked.about, job.asked.standing) == ("close", ("fuel off",))
    assert not job.state.closed
    assert not job.call(NEGATIVE).state.closed
    job.call(plain("job.close"), AFFIRM)
    assert job.state.closed
    assert job.tags == ["fuel off"]


def test_closing_with_steps_left_asks_first() -> None:
    job = Job(None, CARD).open().call(work("removed", "guard"), step("done"), plain("job.close"))
    assert job.asked is not None
    assert job.asked.left == ("drain oil", "grease", "gap", "close up")
    job = Job(None, {**CARD, "step": CARD["step"][2:4]}).open().call(plain("job.close"))
    assert job.asked is not None
    assert (job.asked.about, job.asked.left) == ("close", ("grease", "gap"))
    assert not job.state.closed
    assert job.call(AFFIRM).state.closed


def test_a_closed_job_takes_no_calls_until_it_is_resumed() -> None:
    job = Job().call(plain("job.close"), TagHang(tag="fuel off"))
    assert job.tags == []
    assert job.answers == (Nothing("The job is closed. Say resume to open it again."),)
    assert job.call(plain("resume"), TagHang(tag="fuel off")).tags == ["fuel off"]


def test_an_engine_that_runs_is_heard_while_the_job_is_parked() -> None:
    job = Job().call(TagHang(tag="fuel off"), plain("job.park"), RUNNING)
    assert job.last(ev.EngineRunning).against == ("fuel off",)


def test_parking_names_the_tags_and_resuming_speaks_them_first() -> None:
    job = Job().call(TagHang(tag="fuel off"), timer("soak", hours=2), plain("job.park"))
    assert job.state.parked
    assert job.said == "Job parked. One tag hangs. Fuel off: hung by a call."
    job.wait(hours=1).call(TagHang(tag="no oil"))
    assert job.answers == (Nothing("The job is parked. Say resume to go on."),)
    job.call(plain("resume"))
    assert not job.state.parked
    assert "One tag hangs. Fuel off: hung by a call." in job.said


def test_whatever_came_between_an_affirm_never_starts_against_a_tag() -> None:
    job = Job().call(CLEAR_TO_START)
    job.keep(ev.TagHung(tag="fuel off", by="voice"))
    job.call(AFFIRM)
    assert job.all(ev.StartAffirmed) == []
    assert job.last(ev.StartChecked).standing == ("fuel off",)


def test_whatever_came_between_an_affirm_never_clears_no_oil_without_oil() -> None:
    job = Job().call(drained("20"), added("20"), level("full"))
    job.keep(ev.LevelRead(fluid="oil", level="low"))
    job.call(AFFIRM)
    assert job.tags == ["no oil"]
    assert job.said == "Tag no oil stays: oil level was last called low."
