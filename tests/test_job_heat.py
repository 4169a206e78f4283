"""How long an engine counts as hot, and timers started without a length."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.intent.intents import TimerStart
from companion.job import events as ev
from companion.job.answers import Nothing
from companion.job.heat import HOT_AT_LEAST, HOT_AT_MOST, hot_until, is_hot
from companion.job.timers import USUAL
from tests.bench_job import RUNNING, STOPPED, Job, timer


def cold_after(job: Job) -> timedelta:
    until = hot_until(job.state)
    assert until is not None
    return until - job.now


def ran(minutes: float) -> Job:
    return Job().call(RUNNING).wait(minutes=minutes).call(STOPPED)


def test_an_engine_that_nobody_called_running_is_not_taken_to_be_hot() -> None:
    job = Job()
    assert not is_hot(job.state, job.now)


def test_a_running_engine_is_hot_however_long_ago_it_was_called() -> None:
    job = Job().call(RUNNING).wait(hours=9)
    assert is_hot(job.state, job.now)


@given(st.floats(0, 600), st.floats(0, 600))
def test_the_longer_it_ran_the_longer_it_is_hot(one: float, other: float) -> None:
    shorter, longer = sorted((one, other))
    assert cold_after(ran(shorter)) <= cold_after(ran(longer))
    assert HOT_AT_LEAST <= cold_after(ran(one)) <= HOT_AT_MOST


def test_a_run_of_unknown_length_counts_as_a_long_one() -> None:
    assert cold_after(Job().call(STOPPED)) == HOT_AT_MOST


def test_a_short_run_right_after_a_long_one_leaves_it_as_hot_as_both() -> None:
    job = ran(30).wait(minutes=5).call(RUNNING).wait(minutes=1).call(STOPPED)
    assert cold_after(job) == HOT_AT_LEAST + timedelta(minutes=31)
    later = ran(30).wait(hours=3).call(RUNNING).wait(minutes=1).call(STOPPED)
    assert cold_after(later) == HOT_AT_LEAST + timedelta(minutes=1)


def test_a_cool_down_timer_keeps_it_hot_and_a_short_one_makes_it_no_colder() -> None:
    job = ran(0).call(timer("cool down", hours=2)).wait(minutes=119)
    assert is_hot(job.state, job.now)
    short = ran(60).call(timer("cool down", minutes=1)).wait(minutes=80).ring()
    assert is_hot(short.state, short.now)


@pytest.mark.parametrize("name", sorted(USUAL))
def test_a_named_timer_without_a_length_takes_the_usual_one(name: str) -> None:
    job = Job().call(TimerStart(name=name))
    started = job.last(ev.TimerStarted)
    assert timedelta(seconds=started.seconds) == USUAL[name]
    assert started.due == job.now + USUAL[name]
    assert started.usual


def test_the_length_on_the_card_comes_before_the_usual_one() -> None:
    card = {
        "name": "trial",
        "title": "Trial",
        "step": [
            {"name": "one", "say": "Begin."},
            {"name": "two", "say": "Soak.", "wait": {"timer": "soak", "minutes": 7}},
        ],
    }
    job = Job(None, card).open().call(TimerStart(name="soak"))
    assert job.last(ev.TimerStarted).seconds == 7 * 60


def test_a_cool_down_lasts_until_the_engine_is_taken_to_be_cold() -> None:
    job = ran(20).wait(minutes=5).call(TimerStart(name="cool down"))
    assert job.last(ev.TimerStarted).seconds == 45 * 60
    assert job.last(ev.TimerStarted).due == hot_until(job.state)


def test_where_nothing_is_usual_the_length_is_asked_for() -> None:
    job = Job().call(TimerStart(name="bake"))
    assert job.answers == (Nothing("How long? Call the bake timer with its length."),)
    assert not job.all(ev.TimerStarted)
