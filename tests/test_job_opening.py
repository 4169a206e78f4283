"""What is said when a job is started or taken up again."""

from __future__ import annotations

import pytest

from companion.errors import CompanionError
from companion.intent.intents import TagHang
from companion.job import events as ev
from companion.job.answers import StepSpoken, TagsHanging, TimeLeft
from companion.job.folding.evolve import fold
from companion.shelf.rules import shipped_rules
from companion.speak.reason_words import reasons_words
from tests.bench_job import CARD, SHEET, Job, drained, plain, step, timer


def test_tags_come_first_then_timers_then_the_step() -> None:
    job = Job(SHEET, CARD).open().call(step("done"), drained("18"), timer("cure", hours=24))
    job.call(plain("job.park")).wait(hours=48).resume()
    tags, timers, said = job.answers
    assert isinstance(tags, TagsHanging)
    assert [(tag, reasons_words(why)) for tag, why in tags.tags] == [
        ("plug wire off", "hung at step make safe"),
        ("no oil", "oil was drained, none was called added, and its level not called full"),
    ]
    assert isinstance(timers, TimeLeft)
    assert [name for name, _ in timers.timers] == ["settle", "cure"]
    assert said == StepSpoken("Drain the oil.", (), 2, 5)
    assert job.events == ()
    assert not job.state.parked


def test_taking_up_a_job_enters_no_step_twice() -> None:
    job = Job(SHEET, CARD).open()
    before = len(job.records)
    job.resume()
    assert [record.event.kind for record in job.records[before:]] == ["session.resumed", "said"]


def test_without_a_card_only_what_stands_is_said() -> None:
    job = Job().open()
    assert job.answers == ()
    job.call(TagHang(tag="fuel off")).resume()
    assert job.said == "One tag hangs. Fuel off: hung by a call."


def test_sheet_and_card_are_those_kept_in_the_log() -> None:
    state = fold(Job(SHEET, CARD).records, shipped_rules())
    assert state.sheet is not None
    assert state.sheet.name == SHEET["name"]
    assert state.card is not None
    assert [s.name for s in state.card.step] == [s["name"] for s in CARD["step"]]


def test_a_card_that_cannot_be_read_is_named_with_the_place() -> None:
    with pytest.raises(CompanionError, match=r"cannot be read at 'step.0.say'"):
        Job(None, {"name": "x", "title": "X", "step": [{"name": "a"}]})


def test_resuming_ends_standing_by() -> None:
    job = Job().call(plain("standby")).resume()
    assert not job.state.standby
    assert job.all(ev.Standby)
