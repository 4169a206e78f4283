"""Whatever is called along a card: no step is lost, and none is entered unready unsaid."""

from __future__ import annotations

from hypothesis import example, given, settings
from hypothesis import strategies as st

from companion.intent import intents as it
from companion.job import decide as rules
from companion.job import events as ev
from companion.job import steps
from companion.job.folding.evolve import evolve
from companion.job.state import State
from companion.shelf.rules import shipped_rules
from tests.bench_job import (
    AFFIRM,
    DISREGARD,
    NEGATIVE,
    RUNNING,
    STOPPED,
    Job,
    correction,
    go,
    reading,
    skip,
    step,
    work,
)
from tests.test_job_branches import DIAGNOSIS, SERVICE

NAMES = [each["name"] for card in (DIAGNOSIS, SERVICE) for each in card["step"]]
CALLS: tuple[it.Intent, ...] = (
    *(step(call) for call in ("done", "done", "done", "next", "back", "skip", "say")),
    *(skip(reason) for reason in ("no parts", "not needed", "later")),
    *(go(name) for name in NAMES),
    AFFIRM,
    AFFIRM,
    NEGATIVE,
    DISREGARD,
    RUNNING,
    STOPPED,
    reading("compression", "95", "psi"),
    reading("compression", "30", "psi"),
    correction("61"),
    correction("59"),
    it.Finding(part="spark plug", condition="fouled"),
    work("cleaned", "spark plug"),
    work("cleaned", "blade"),
    it.Work(action="tightened", part="blade bolt", count=6),
    it.TagClear(tag="plug wire off"),
    it.StepsLeft(),
)
calls = st.lists(st.one_of(st.sampled_from(CALLS), st.integers(1, 90)), min_size=5, max_size=40)
cards = st.sampled_from((DIAGNOSIS, SERVICE))


def live(card: dict, what: list) -> Job:
    job = Job(None, card).open()
    for call in what:
        if isinstance(call, int):
            job.wait(minutes=call)
        else:
            job.call(call)
    return job


@settings(max_examples=200, deadline=None)
@given(cards, calls)
def test_every_step_is_done_or_skipped_or_does_not_apply_or_is_left(card: dict, what: list) -> None:
    job = live(card, what)
    done = {event.step for event in job.all(ev.StepDone)}
    skipped = {event.step for event in job.all(ev.StepSkipped)}
    left = {each.name for each in steps.steps_left(job.state)}
    for each in steps.all_steps(job.state):
        match steps.stage(job.state, each):
            case "done":
                assert each.name in done
            case "skipped":
                assert each.name in skipped
                assert steps.mark(job.state, each.name).reason in (None, "not needed")
            case "not applying":
                # Only a condition, a branch or the person's word takes a step away.
                ruled = [e for e in job.all(ev.StepRuled) if e.step == each.name]
                branching = any(other.branch for other in steps.all_steps(job.state))
                assert ruled or each.only_if is not None or branching
                assert each.name not in done
            case "left":
                assert each.name in left
        assert (each.name in left) == (steps.stage(job.state, each) == "left")
    answer = rules.decide(job.state, it.StepsLeft(), at=job.now, heard=None).answers[0]
    assert getattr(answer, "count", None) == len(left)


@settings(max_examples=200, deadline=None)
@given(cards, calls)
def test_no_step_is_entered_unready_without_its_being_said(card: dict, what: list) -> None:
    job = live(card, what)
    state = State.start(shipped_rules())
    for record in job.records:
        before, state = state, evolve(state, record)
        if not isinstance(record.event, ev.StepEntered):
            continue
        entered = steps.step_named(before, record.event.step)
        assert entered is not None
        if steps.is_finished(before, entered):
            continue  # only looked at
        against = steps.against_entering(before, entered, record.at)
        if against:
            # It was asked, naming what is in the way, and affirmed.
            assert record.event.against
            asked = [
                earlier.event
                for earlier in job.records[: record.seq - 1]
                if isinstance(earlier.event, ev.Asked) and earlier.event.about == "enter"
            ]
            assert asked[-1].step == record.event.step
            assert asked[-1].against == record.event.against
            answered = job.records[record.seq - 2].event
            assert isinstance(answered, ev.Answered)
            assert answered.answer == "affirm"


@settings(max_examples=100, deadline=None)
@given(cards, calls)
@example(DIAGNOSIS, [go("plug"), step("done"), step("done"), step("done"), step("back")])
def test_going_on_with_every_step_leaves_nothing_open_after_it(card: dict, what: list) -> None:
    job = live(card, what)
    for _ in range(60):
        if job.asked is not None:
            job.call(AFFIRM)
        elif steps.next_open(job.state, steps.current(job.state)) is None:
            break
        else:
            job.call(step("done"))
    assert steps.next_open(job.state, steps.current(job.state)) is None
