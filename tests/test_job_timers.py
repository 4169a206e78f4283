"""Several named timers, their rings, and "roger"."""

from __future__ import annotations

from datetime import timedelta

from companion.intent.intents import TimerCancel, TimerLeft
from companion.job import events as ev
from companion.job.answers import Nothing, TimeLeft
from companion.job.decide import next_deadline
from companion.job.folding.evolve import fold
from companion.shelf.rules import shipped_rules
from tests.bench_job import DISREGARD, MONDAY, ROGER, Job, plain, timer


def rings(job: Job) -> list[tuple[str, int]]:
    return [(event.name, event.count) for event in job.events if isinstance(event, ev.TimerRang)]


def test_a_timer_rings_at_its_deadline_and_not_before() -> None:
    job = Job().call(timer("soak", hours=2))
    assert job.last(ev.TimerStarted).due == MONDAY + timedelta(hours=2)
    assert next_deadline(job.state) == MONDAY + timedelta(hours=2)
    assert rings(job.wait(hours=1, minutes=59, seconds=59).ring()) == []
    assert rings(job.wait(seconds=1).ring()) == [("soak", 1)]


def test_it_rings_again_at_growing_intervals_until_roger() -> None:
    job = Job().call(timer("soak", minutes=5)).wait(minutes=5).ring()
    heard = []
    for _ in range(8):
        after = next_deadline(job.state)
        assert after is not None
        heard.append((after - job.now) // timedelta(minutes=1))
        job.wait(minutes=heard[-1], seconds=0).ring()
        assert rings(job) == [("soak", len(heard) + 1)]
    assert heard == [1, 2, 4, 8, 16, 30, 30, 30]
    job.call(ROGER)
    assert job.last(ev.TimerAcknowledged).name == "soak"
    assert next_deadline(job.state) is None


def test_several_timers_ring_in_the_order_of_their_deadlines() -> None:
    job = Job().call(timer("settle", minutes=20), timer("soak", minutes=10), timer("cure", hours=1))
    assert rings(job.wait(minutes=30).ring()) == [("soak", 1), ("settle", 1)]
    job.call(ROGER)
    assert [event.name for event in job.events] == ["soak", "settle"]
    assert list(job.state.timers) == ["cure"]


def test_time_left_is_the_soonest_first_in_whole_seconds_negative_when_overdue() -> None:
    job = Job().call(timer("soak", hours=2), timer("settle", minutes=1)).wait(seconds=90.5)
    job.call(TimerLeft())
    assert job.answers == (TimeLeft((("settle", -31), ("soak", 7109))),)
    job.call(TimerLeft(name="soak"))
    assert job.answers == (TimeLeft((("soak", 7109),)),)
    job.call(TimerLeft(name="cure"))
    assert job.answers == (Nothing("No cure timer runs."),)


def test_with_no_timer_running_it_says_so() -> None:
    assert Job().call(TimerLeft()).answers == (Nothing("No timer runs."),)
    assert Job().call(TimerCancel(name="soak")).answers == (Nothing("No timer runs."),)


def test_roger_with_nothing_ringing_records_and_says_nothing() -> None:
    job = Job().call(timer("soak", hours=2), ROGER)
    assert (job.events, job.answers) == ((), ())


def test_a_cancelled_timer_does_not_ring() -> None:
    job = Job().call(timer("soak", minutes=5), TimerCancel(name="soak"))
    assert rings(job.wait(minutes=6).ring()) == []


def test_cancel_timer_without_a_name_means_the_only_one() -> None:
    job = Job().call(timer("soak", minutes=5), TimerCancel(name="timer"))
    assert job.last(ev.TimerCancelled).name == "soak"
    job.call(timer("soak", minutes=5), timer("cure", minutes=6), TimerCancel(name="timer"))
    assert job.answers == (Nothing("Which timer? These run: soak, cure."),)
    assert len(job.state.timers) == 2


def test_starting_a_timer_that_runs_starts_it_anew_and_records_that_the_old_one_ended() -> None:
    job = Job().call(timer("soak", hours=2))
    first = job.seq(ev.TimerStarted)
    job.wait(minutes=30).call(timer("soak", hours=1))
    assert job.last(ev.TimerCancelled).replaced
    assert job.last(ev.TimerStarted).replaces == first
    assert next_deadline(job.state) == MONDAY + timedelta(minutes=90)


def test_disregarding_the_new_one_brings_the_old_one_back() -> None:
    job = Job().call(timer("soak", hours=2), timer("soak", minutes=2), DISREGARD)
    assert next_deadline(job.state) == MONDAY + timedelta(hours=2)


def test_disregarding_a_timer_or_its_cancelling() -> None:
    job = Job().call(timer("soak", hours=2), DISREGARD)
    assert next_deadline(job.state) is None
    job.call(timer("soak", hours=2), TimerCancel(name="soak"), DISREGARD)
    assert next_deadline(job.state) == MONDAY + timedelta(hours=2)


def test_timers_ring_while_standing_by_and_parked_and_after_closing() -> None:
    for call in ("standby", "job.park", "job.close"):
        job = Job().call(timer("soak", minutes=5), plain(call))
        assert rings(job.wait(minutes=5).ring()) == [("soak", 1)], call
        assert job.call(ROGER).state.timers == {}, call


def test_a_timer_set_on_monday_rings_on_tuesday_after_a_restart() -> None:
    job = Job().call(timer("cure", hours=24))
    job.state = fold(job.records, shipped_rules())
    job.wait(hours=30).resume()
    assert job.answers[0] == TimeLeft((("cure", -6 * 3600),))
    # However late, it rings once and then at the usual intervals.
    assert rings(job.ring()) == [("cure", 1)]
    assert rings(job.ring()) == []
    assert next_deadline(job.state) == job.now + timedelta(minutes=1)
