"""A test that a step asks for: its answer is never lost, whatever is called in between."""

from __future__ import annotations

from typing import Any

import pytest

from companion.intent import intents as it
from companion.job import events as ev
from tests.bench_job import (
    AFFIRM,
    CLEAR_TO_START,
    NEGATIVE,
    STOPPED,
    Job,
    go,
    level,
    step,
    work,
)

CARD: dict[str, Any] = {
    "name": "trial",
    "title": "A trial",
    "invented": True,
    "step": [
        {
            "name": "brake-test",
            "say": "Let the lever go.",
            "asks": "Did it stop at once?",
            "finds": [{"answer": "negative", "part": "brake", "condition": "failed"}],
        },
        {"name": "hand-over", "say": "Call follow ups."},
    ],
}


def against(job: Job) -> list[str]:
    """Names of what stands against a start now."""
    job.call(CLEAR_TO_START)
    return [reason.name for reason in job.last(ev.StartChecked).reasons]


def test_a_no_to_a_test_holds_the_start() -> None:
    assert against(Job(None, CARD).open().call(NEGATIVE)) == ["brake"]


@pytest.mark.parametrize(
    "between",
    [
        STOPPED,
        level("full"),
        it.TagList(),
        it.Note(text="it creeps"),
        it.Finding(part="recoil rope", condition="frayed"),
        step("say"),
    ],
    ids=lambda call: call.intent,
)
def test_a_no_that_comes_after_other_calls_is_not_lost(between: it.Intent) -> None:
    job = Job(None, CARD).open().call(between, NEGATIVE)
    assert "brake" in against(job)


def test_a_yes_that_comes_after_other_calls_is_asked_for_again() -> None:
    job = Job(None, CARD).open().call(level("full"), AFFIRM)
    assert job.asked is not None
    assert job.asked.about == "step-question"
    assert job.call(AFFIRM).state.step == "hand-over"


def test_saying_the_step_and_taking_up_the_job_ask_again() -> None:
    job = Job(None, CARD).open().call(level("full"), step("say"))
    assert job.asked is not None
    assert job.asked.meaning == "Did it stop at once?"
    job.call(level("full")).resume()
    assert job.asked is not None
    assert job.asked.about == "step-question"


def test_going_back_to_a_test_makes_it_again() -> None:
    job = Job(None, CARD).open().call(NEGATIVE, work("repaired", "brake"))
    assert against(job) == []
    job.call(NEGATIVE, go("brake-test"))
    assert job.asked is not None
    assert job.asked.about == "step-question"
    assert against(job.call(NEGATIVE)) == ["brake"]


def test_no_to_nothing_is_told_so_where_no_step_asks() -> None:
    job = Job().call(NEGATIVE)
    assert job.all(ev.FindingRecorded) == []


def test_what_a_step_does_it_does_to_all_of_them() -> None:
    card = {
        **CARD,
        "step": [
            {
                "name": "knives-in",
                "say": "Fit new knives.",
                "does": [{"action": "replaced", "part": "knife"}],
            }
        ],
    }
    job = Job(None, card).open().call(it.Finding(part="knife", condition="chipped", every=True))
    assert against(job.call(step("done"))) == []


@pytest.mark.parametrize(
    ("opened", "ended"),
    [
        (
            it.Finding(part="fuel line", condition="cracked", every=True),
            it.Work(action="replaced", part="fuel line", count=2),
        ),
        (
            it.Finding(part="left wheel", condition="missing"),
            it.Work(action="replaced", part="wheel", every=True),
        ),
    ],
)
def test_all_of_them_are_mended_by_their_number_or_their_plural(
    opened: it.Intent, ended: it.Intent
) -> None:
    job = Job().call(opened, ended, AFFIRM)
    assert against(job) == []


@pytest.mark.parametrize("part", ["engine bolt", "wheel", "shear pin", "tine"])
def test_two_may_not_be_all_of_them(part: str) -> None:
    job = Job().call(
        it.Finding(part=part, condition="loose", every=True),
        it.Work(action="tightened", part=part, count=2),
    )
    assert against(job) == [part]


def test_the_card_says_how_many_there_are() -> None:
    taking_two = {"name": "pins", "say": "Fit pins.", "parts": [{"name": "shear pin", "count": 2}]}
    job = Job(None, {**CARD, "step": [taking_two]}).open()
    job.call(
        it.Work(action="removed", part="shear pin", every=True),
        it.Work(action="installed", part="shear pin", count=2),
        AFFIRM,
    )
    assert against(job) == []


def test_a_tank_that_runs_over_holds_the_start_until_it_is_let_out() -> None:
    job = Job().call(level("over", "fuel"))
    assert against(job) == ["fuel"]
    assert against(job.call(level("full", "fuel"))) == []
