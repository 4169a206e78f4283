"""What hangs a tag by itself, and what a part still off, open or loose means for the gate."""

from __future__ import annotations

from pathlib import Path

import pytest
from companion.job.tags import FOUND, TABLE, TAGS, load_tags

from companion.errors import CompanionError
from companion.grammar.compiled import load_grammar
from companion.intent.intents import Finding, TagClear, TagHang, TagList
from companion.job import events as ev
from companion.job.answers import ReadBackList, Refused, TagsHanging
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


def test_every_tag_that_hangs_by_itself_says_why_and_can_be_called() -> None:
    grammar = load_grammar()
    for rule in TAGS.values():
        assert rule.why.endswith("."), rule.tag
        assert grammar.parse(("clear", "tag", *rule.tag.split())), rule.tag


def test_every_verb_of_the_rules_can_be_called() -> None:
    grammar = load_grammar()
    spoken = {"connected": "hooked up"}
    for rule in TAGS.values():
        for each in rule.work:
            part = (each.parts or ("handle bolt",))[0]
            for action in (*each.hung_by[:1], *each.undone_by[:1]):
                said = f"{spoken.get(action, action)} {part}"
                assert grammar.parse(tuple(said.split())), said
    assert all(each.mended_by for each in FOUND)


# --- several parts under one tag ----------------------------------------------------------------


def test_a_tag_names_every_part_that_is_still_off() -> None:
    job = Job().call(work("removed", "drive belt"), work("removed", "reverse belt"), TagList())
    assert job.answers == (
        TagsHanging((("belt off", "drive belt and reverse belt were removed"),)),
    )


def test_one_part_back_asks_nothing_while_another_is_off() -> None:
    job = Job().call(work("removed", "drive belt"), work("removed", "reverse belt"))
    job.call(work("installed", "drive belt"))
    assert job.asked is None
    assert job.answers == (ReadBackList("not called installed", ("reverse belt",)),)
    assert job.call(work("installed", "reverse belt"), AFFIRM).tags == []


def test_clearing_by_call_names_what_was_not_called_back() -> None:
    job = Job().call(work("removed", "drive belt"), TagClear(tag="belt off"))
    assert job.asked is not None
    assert job.asked.meaning == (
        "Drive belt was removed and not called installed. Affirm if that is over."
    )
    assert job.call(AFFIRM).tags == []


# --- bolts left loose ---------------------------------------------------------------------------


def test_bolts_left_loose_stay_tagged_until_each_is_called_tight() -> None:
    job = Job().call(work("loosened", "handle bolt"), work("loosened", "deck bolt"))
    assert job.tags == ["bolts loose"]
    job.call(work("tightened", "deck bolt"))
    assert job.asked is None
    assert job.answers == (ReadBackList("not called tightened", ("handle bolt",)),)
    job.call(TagClear(tag="bolts loose"))
    assert job.answers == (
        Refused("Tag bolts loose stays: handle bolt was loosened and not called tightened."),
    )
    job.call(AFFIRM)
    assert job.tags == ["bolts loose"]
    job.call(CLEAR_TO_START)
    assert job.last(ev.StartChecked).reasons == ("tag bolts loose: handle bolt was loosened",)
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
    assert job.last(ev.StartChecked).reasons == (
        "handle bolt was called loose and not called mended",
    )
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


def test_a_worn_belt_or_a_broken_shear_pin_does_not_keep_it_shut() -> None:
    job = Job().call(
        Finding(part="drive belt", condition="worn"),
        Finding(part="shear pin", condition="broken"),
        CLEAR_TO_START,
    )
    assert job.asked is not None


def test_running_against_a_loose_bolt_is_answered_with_a_warning() -> None:
    job = Job().call(Finding(part="handle bolt", condition="loose"), RUNNING)
    assert job.last(ev.EngineRunning).reasons == (
        "handle bolt was called loose and not called mended",
    )
    reply = word(job.state, job.events, job.answers)
    assert reply is not None
    assert reply.tone == "warning"
    assert reply.text.startswith("Stop the engine. Handle bolt was called loose")


# --- what the gate tells ------------------------------------------------------------------------


def test_the_gate_says_what_was_checked_as_well_as_what_was_not() -> None:
    job = Job().call(drained("20"), added("20"), level("full"), AFFIRM, CLEAR_TO_START)
    assert job.last(ev.StartChecked).checked == ("oil level full", "no oil cleared")
    assert job.asked is not None
    assert job.asked.meaning.startswith(
        "No tag hangs. Checked: oil level full, 1 tag cleared. Not checked: guards,"
    )


def test_what_was_cleared_for_an_earlier_start_is_not_told_again() -> None:
    job = Job().call(TagHang(tag="fuel off"), TagClear(tag="fuel off"), AFFIRM)
    job.call(CLEAR_TO_START, AFFIRM, CLEAR_TO_START)
    assert job.last(ev.StartChecked).checked == ()


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
    assert all(not isinstance(answer, Refused) for answer in job.answers)


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


def test_an_affirm_of_words_that_no_longer_hold_asks_again() -> None:
    job = Job().call(work("removed", "drive belt"), TagClear(tag="belt off"))
    job.keep(ev.WorkRecorded(action="removed", part="reverse belt"))
    job.call(AFFIRM)
    assert job.tags == ["belt off"]
    assert job.asked is not None
    assert job.asked.meaning.startswith("Drive belt and reverse belt were removed")


def test_tags_that_a_step_clears_are_asked_about_one_by_one() -> None:
    closing = {"name": "close", "say": "Close up.", "clears": ["fuel off", "guard off"]}
    card = {"name": "x", "title": "X", "step": [closing, {"name": "end", "say": "Look."}]}
    job = Job(None, card).open().call(TagHang(tag="fuel off"), work("removed", "guard"))
    job.call(step("done"))
    assert job.asked is not None
    assert job.asked.tag == "fuel off"
    # What is asked about changes: the same tag is asked about again, then the other.
    job.keep(ev.WorkRecorded(action="closed", part="fuel valve"))
    job.call(AFFIRM)
    assert job.tags == ["fuel off", "guard off"]
    assert job.asked is not None
    assert "Fuel valve was closed" in job.asked.meaning
    job.call(AFFIRM)
    assert job.tags == ["guard off"]
    assert job.asked is not None
    assert job.asked.tag == "guard off"
    assert job.call(NEGATIVE).tags == ["guard off"]
    assert job.state.step == "end"


def test_a_draining_corrected_to_nothing_asks_before_its_tag_comes_down() -> None:
    job = Job().call(drained("20"), correction("0"))
    assert job.tags == ["no oil"]
    assert job.asked is not None
    assert job.asked.tag == "no oil"
    assert "which was taken back" in job.asked.meaning
    assert job.call(AFFIRM).tags == []
    # And the other way round: what turns out to have been drained hangs the tag again.
    assert job.call(correction("5")).tags == ["no oil"]


def test_no_call_clears_every_tag_at_once() -> None:
    grammar = load_grammar()
    for said in ("clear tags", "clear all tags", "clear tag", "clear tag no oil plug wire off"):
        assert not grammar.parse(tuple(said.split())), said


# --- the table ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("broken", "reason"),
    [
        ('tag = "x"\nwhy = "Y."', "nothing hangs the tag 'x'"),
        ('tag = "x"', "has no 'why'"),
        ('tag = "x"\nwhy = "Y."\ncolor = "red"', "unknown key 'color'"),
        (
            'tag = "x"\nwhy = "Y."\nwork = [{ hung_by = ["removed"], undone_by = ["removed"] }]',
            "'removed' both hangs and undoes the tag",
        ),
        (
            'tag = "x"\nwhy = "Y."\nwork = [{ hung_by = ["removed"], undone_by = [] }]',
            "'undone_by' is empty",
        ),
    ],
)
def test_a_wrong_table_is_refused_with_its_line(tmp_path: Path, broken: str, reason: str) -> None:
    path = tmp_path / "tags.toml"
    path.write_text(f"[[tag]]\n{broken}\n", encoding="utf-8")
    with pytest.raises(CompanionError, match=rf"tags\.toml:\d+: .*{reason}"):
        load_tags(path)


def test_the_table_that_is_shipped_is_the_one_in_use() -> None:
    assert {rule.tag for rule in load_tags(TABLE).tag} == set(TAGS)
