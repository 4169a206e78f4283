"""Before a start: what 29 CFR 1910.147 (e) wants verified before release from lockout or tagout.

The rule is cited by its paragraphs from memory; read the rule itself. It is about energy control
in general industry: a shop of one person takes its order, and this program only tells and asks.
"""

from __future__ import annotations

import pytest

from companion.intent.intents import Finding, TagClear, TagHang
from companion.job import events as ev
from companion.speak.reason_words import NEVER_CHECKED
from tests.bench_job import AFFIRM, CLEAR_TO_START, NEGATIVE, RUNNING, Job, level, work


@pytest.mark.parametrize("part", ["guard", "blade", "drive belt", "spark plug", "muffler"])
def test_e1_components_are_operationally_intact(part: str) -> None:
    """(e)(1): the work area is inspected so that machine components are operationally intact."""
    for call in (work("removed", part), Finding(part=part, condition="cracked")):
        job = Job().call(call, CLEAR_TO_START)
        assert any(reason.name == part for reason in job.last(ev.StartChecked).reasons)
        assert job.asked is None


def test_e1_and_e2_what_no_call_tells_is_said_before_every_start() -> None:
    """(e)(1) and (e)(2): tools and items out of the way, employees safely positioned."""
    assert {"guards", "people near"} <= set(NEVER_CHECKED)
    job = Job().call(level("full"), CLEAR_TO_START)
    assert job.asked is not None
    assert job.asked.about == "start"
    assert job.asked.checked is not None


def test_e3_each_tag_is_removed_by_who_answers_for_it_one_by_one() -> None:
    """(e)(3): each device is removed by the employee who applied it; never several at once."""
    job = Job().call(TagHang(tag="plug wire off"), TagHang(tag="fuel off"))
    job.call(TagClear(tag="plug wire off"))
    assert job.tags == ["plug wire off", "fuel off"]
    assert job.call(NEGATIVE).tags == ["plug wire off", "fuel off"]
    assert job.call(TagClear(tag="plug wire off"), AFFIRM).tags == ["fuel off"]


def test_f1_energized_while_tagged_is_answered_at_once() -> None:
    """(f)(1): before a machine is energized, tags are removed and people are clear; a machine that
    runs against a tag is to be stopped."""
    job = Job().call(TagHang(tag="guard off"), RUNNING)
    assert job.last(ev.EngineRunning).against == ("guard off",)
