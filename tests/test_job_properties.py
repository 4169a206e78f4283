"""What holds for a job whatever is called, in whatever order, at whatever times."""

from __future__ import annotations

import os
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.intent import intents as it
from companion.job import decide as job_rules
from companion.job import events as ev
from companion.job import gate
from companion.job.events import EVENT
from companion.job.folding.evolve import evolve, fold
from companion.job.known_of_machine import OtherSession, machine_known
from companion.job.record import Record
from companion.job.state import State
from companion.shelf.rules import shipped_rules
from tests import start_oracle
from tests.bench_job import (
    AFFIRM,
    CARD,
    CLEAR_TO_START,
    DISREGARD,
    MONDAY,
    NEGATIVE,
    ROGER,
    RUNNING,
    SHEET,
    STOPPED,
    Job,
    added,
    correction,
    drained,
    level,
    plain,
    reading,
    step,
    timer,
    words,
    work,
)

CALLS: tuple[it.Intent, ...] = (
    AFFIRM,
    NEGATIVE,
    DISREGARD,
    ROGER,
    CLEAR_TO_START,
    RUNNING,
    STOPPED,
    drained("20"),
    drained("2", fluid=None),
    added("20"),
    added("0"),
    added("1", fluid=None),
    drained("1", "pint", "fuel"),
    added("1", "pint", "fuel"),
    *(level(called) for called in ("full", "low", "over")),
    reading("gap", "30", "thou"),
    reading("gap", "15", "thou"),
    reading("compression", "80", "psi"),
    correction("31"),
    correction("0"),
    correction("0.7", "millimeter"),
    *(it.TagHang(tag=tag) for tag in ("no oil", "fuel off", "belt off")),
    *(it.TagClear(tag=tag) for tag in ("no oil", "fuel off", "belt off", "plug wire off")),
    it.TagList(),
    *(work(action, "drive belt") for action in ("removed", "installed", "replaced")),
    work("greased", "axle"),
    work("greased", "auger shaft"),
    it.Finding(part="guard", condition="missing"),
    it.Part(intent="part.need", part="shear pin", count=2),
    it.Note(text="noted"),
    timer("soak", minutes=5),
    timer("soak", minutes=1),
    timer("cure", hours=2),
    it.TimerCancel(name="soak"),
    it.TimerCancel(name="timer"),
    it.TimerLeft(),
    *(step(call) for call in ("done", "next", "back", "skip", "say")),
    it.ReadBack(subject="oil"),
    it.ReadBack(subject="steps"),
    it.SpecAsk(measure="gap"),
    *(plain(call) for call in ("say.again", "standby", "resume", "job.park", "job.close")),
)

# What people do in one go; left to chance alone, tags would hardly ever come down.
HABITS: tuple[tuple[it.Intent, ...], ...] = (
    (drained("20"), added("20"), level("full"), AFFIRM),
    (added("20"), level("full"), AFFIRM),
    (drained("20"), it.TagClear(tag="no oil"), AFFIRM),
    (level("low"), level("full"), AFFIRM, DISREGARD, AFFIRM),
    (CLEAR_TO_START, AFFIRM),
    (it.TagHang(tag="fuel off"), DISREGARD, AFFIRM),
    *(
        (it.TagClear(tag=tag), AFFIRM)
        for tag in ("no oil", "fuel off", "plug wire off", "belt off")
    ),
    (work("removed", "drive belt"), work("installed", "drive belt"), AFFIRM),
    (DISREGARD, AFFIRM),
    (step("done"), step("done"), AFFIRM, AFFIRM),
    (plain("job.close"), AFFIRM, plain("resume")),
    (RUNNING, drained("20"), STOPPED),
)

calls = st.one_of(st.sampled_from(CALLS).map(lambda call: (call,)), st.sampled_from(HABITS))
happenings = st.lists(
    st.one_of(
        calls.map(lambda some: ("calls", some)),
        calls.map(lambda some: ("calls", some)),
        st.lists(st.sampled_from(CALLS), min_size=1, max_size=3).map(lambda some: ("doubt", some)),
        st.sampled_from((5, 70, 400, 7200)).map(lambda seconds: ("wait", seconds)),
        st.sampled_from(((plain("resume"),), None)).map(
            lambda resume: ("calls", resume) if resume else ("restart", None)
        ),
    ),
    min_size=8,
    max_size=40,
)
jobs = st.sampled_from(((None, None), (SHEET, None), (SHEET, CARD)))


def live(papers: tuple, what: list) -> Job:
    """Live through a job; at every call a second decision must equal the first."""
    job = Job(*papers).open()
    for kind, value in what:
        if kind == "calls":
            for call in value:
                twice = [
                    job_rules.decide(job.state, call, at=job.now, heard=len(job.records) + 1)
                    for _ in range(2)
                ]
                assert twice[0] == twice[1]
                job.call(call)
        elif kind == "doubt":
            job.doubt(*value)
        elif kind == "wait":
            job.wait(seconds=value).ring()
        else:
            job.resume()
    return job


@settings(max_examples=75, deadline=None)
@given(jobs, happenings)
def test_the_state_is_a_fold_of_the_records(papers: tuple, what: list) -> None:
    job = live(papers, what)
    # ``job.state`` was kept up record by record.
    assert fold(job.records, shipped_rules()) == job.state
    assert fold(job.records, shipped_rules()) == fold(job.records, shipped_rules())
    half = len(job.records) // 2
    state = fold(job.records[:half], shipped_rules())
    for record in job.records[half:]:
        state = evolve(state, record)
    assert state == job.state


@settings(max_examples=50, deadline=None)
@given(jobs, happenings)
def test_a_job_read_back_from_json_is_the_same_job(papers: tuple, what: list) -> None:
    job = live(papers, what)
    again = [
        Record(record.seq, record.at, EVENT.validate_json(record.event.model_dump_json()))
        for record in job.records
    ]
    assert fold(again, shipped_rules()) == job.state


@settings(max_examples=150, deadline=None)
@given(jobs, happenings)
def test_danger_fails_safe(papers: tuple, what: list) -> None:
    job = live(papers, what)
    state = State.start(shipped_rules())
    for record in job.records:
        before, state = state, evolve(state, record)
        match record.event:
            case ev.StartAffirmed():
                assert gate.reasons_against_start(before) == ()
                assert _affirmed(job, record).about == "start"
            case ev.TagCleared(tag=tag):
                assert gate.in_the_way(before, tag) == ()
                asked = _affirmed(job, record)
                assert (asked.about, asked.tag) == ("clear-tag", tag)
            case ev.JobClosed() if before.tags:
                asked = _affirmed(job, record)
                assert asked.about == "close"
                assert set(asked.standing) == {tag.tag for tag in before.tags}
            case ev.StartChecked(standing=standing):
                assert standing == tuple(tag.tag for tag in before.tags)
        gone = {tag.tag for tag in before.tags} - {tag.tag for tag in state.tags}
        assert not gone or isinstance(record.event, ev.TagCleared)


def _affirmed(job: Job, record: Record) -> ev.Asked:
    """The question that was open when the "affirm" right before this record came."""
    answered = job.records[record.seq - 2]
    assert isinstance(answered.event, ev.Answered)
    assert answered.event.answer == "affirm"
    question = fold(job.records[: answered.seq - 1], shipped_rules()).question
    assert question is not None
    return question.event


# Whatever can stand in the way of a start, and whatever may be called to get it out of the way.
STARTING: tuple[it.Intent, ...] = (
    *CALLS,
    *(drained("20", fluid=fluid) for fluid in ("oil", "gear oil", "coolant", "two stroke mix")),
    *(added("20", fluid=fluid) for fluid in ("gear oil", "coolant", "two stroke mix")),
    *(level(called, fluid) for called in ("full", "low") for fluid in ("gear oil", "coolant")),
    *(
        work(action, part)
        for part in ("reverse belt", "shear pin", "blade", "idler pulley", "guard", "belt guard")
        for action in ("removed", "installed", "replaced")
    ),
    *(
        work(action, part)
        for part in ("plug wire", "battery")
        for action in ("removed", "disconnected", "installed", "connected")
    ),
    *(work(action, "fuel valve") for action in ("closed", "opened")),
    *(work(action, "machine") for action in ("raised", "lowered")),
    *(
        work(action, part)
        for part in ("handle bolt", "deck bolt")
        for action in ("loosened", "removed", "tightened", "replaced")
    ),
    it.Finding(part="handle bolt", condition="loose"),
    it.Finding(part="fuel line", condition="leaking"),
    it.Finding(part="blade", condition="cracked"),
    it.Finding(part="belt guard", condition="broken"),
    it.Finding(part="fuel line", condition="cracked"),
    it.Finding(part="brake cable", condition="frayed"),
    *(work(action, "fuel line") for action in ("removed", "installed", "tightened", "replaced")),
    *(work(action, "spark plug") for action in ("removed", "installed", "tightened", "checked")),
    *(work(action, "muffler") for action in ("removed", "replaced")),
    *(
        it.Work(action=action, part="handle bolt", count=count, every=every)
        for action in ("loosened", "tightened")
        for count, every in ((4, False), (1, True), (3, False))
    ),
    added("40"),
    *(
        call(tag=tag)
        for tag in ("drive open", "guard off", "battery off", "bolts loose", "no gear oil")
        for call in (it.TagHang, it.TagClear)
    ),
    *(it.TagClear(tag=tag) for tag in ("no fuel", "no coolant", "blocked up")),
)

# Left to chance alone, the gate would be shut from the first removal on, and never be seen open.
PUT_RIGHT: tuple[tuple[it.Intent, ...], ...] = (
    *(
        (work(off, part), work(on, part), AFFIRM)
        for off, part, on in (
            ("removed", "guard", "installed"),
            ("removed", "drive belt", "replaced"),
            ("removed", "shear pin", "installed"),
            ("disconnected", "battery", "connected"),
            ("removed", "plug wire", "installed"),
            ("closed", "fuel valve", "opened"),
            ("raised", "machine", "lowered"),
            ("loosened", "handle bolt", "tightened"),
        )
    ),
    (it.Finding(part="handle bolt", condition="loose"), work("tightened", "handle bolt")),
    (it.Finding(part="fuel line", condition="cracked"), work("replaced", "fuel line")),
    (drained("20"), added("20"), level("full"), AFFIRM),
    (level("over"), drained("2"), level("full"), AFFIRM),
    (work("removed", "spark plug"), work("installed", "spark plug"), AFFIRM),
    (reading("gap", "30", "thou"), work("greased", "axle")),
    (CLEAR_TO_START, AFFIRM),
)

OPENINGS: tuple[tuple[it.Intent, ...], ...] = (
    *PUT_RIGHT,
    (work("loosened", "deck bolt"), work("tightened", "deck bolt"), AFFIRM, DISREGARD, AFFIRM),
    (work("removed", "guard"), work("installed", "guard"), AFFIRM, DISREGARD, AFFIRM),
    (work("removed", "guard"), it.TagClear(tag="guard off"), AFFIRM),
    (work("loosened", "handle bolt"), it.TagClear(tag="bolts loose"), AFFIRM, CLEAR_TO_START),
    (it.Work(action="loosened", part="handle bolt", count=4), work("tightened", "handle bolt")),
    (drained("20"), added("40"), level("full"), AFFIRM),
    (drained("20"), correction("0"), AFFIRM, correction("20")),
    (drained("20", fluid="gear oil"), added("20", fluid="gear oil"), level("full", "gear oil")),
    (drained("9", fluid="two stroke mix"), added("9", fluid="two stroke mix"), AFFIRM),
    (CLEAR_TO_START, AFFIRM),
    (CLEAR_TO_START, work("removed", "guard"), AFFIRM),
    (CLEAR_TO_START, plain("say.again"), AFFIRM),
    (plain("job.park"), AFFIRM, plain("resume")),
    (RUNNING, STOPPED, CLEAR_TO_START, AFFIRM),
)

# What looks as if it were put right and is not: the engine must not be started after any of these.
NOT_PUT_RIGHT: tuple[tuple[it.Intent, ...], ...] = (
    (
        it.Work(action="loosened", part="handle bolt", count=4),
        it.Work(action="tightened", part="handle bolt", count=3),
        AFFIRM,
    ),
    (work("loosened", "deck bolt"), work("loosened", "deck bolt"), work("tightened", "deck bolt")),
    (
        it.Work(action="loosened", part="handle bolt", every=True),
        work("tightened", "handle bolt"),
        AFFIRM,
    ),
    (work("removed", "deck bolt"), work("installed", "deck bolt"), AFFIRM),
    (
        it.Finding(part="fuel line", condition="cracked"),
        work("removed", "fuel line"),
        work("installed", "fuel line"),
        AFFIRM,
    ),
    (it.Finding(part="fuel line", condition="leaking"), work("tightened", "fuel line")),
    (it.Finding(part="brake cable", condition="frayed"), work("adjusted", "brake cable")),
    (it.Finding(part="blade", condition="cracked"), work("sharpened", "blade")),
    (it.Finding(part="handle bolt", condition="loose"), work("adjusted", "handle bolt")),
    (it.Finding(part="belt guard", condition="broken"), work("installed", "belt guard"), AFFIRM),
    (work("removed", "belt guard"), work("installed", "guard"), it.TagClear(tag="guard off")),
    (work("removed", "guard"), work("installed", "guard"), NEGATIVE),
    (work("removed", "spark plug"), work("checked", "spark plug")),
    (work("removed", "muffler"), it.TagClear(tag="part off"), AFFIRM),
    (drained("20"), level("full"), it.TagClear(tag="no oil"), AFFIRM),
    (drained("20"), added("20"), it.TagClear(tag="no oil"), AFFIRM),
    (drained("20"), added("40"), level("full"), AFFIRM),
    (level("low"), added("2"), it.TagClear(tag="no oil"), AFFIRM),
    (it.TagHang(tag="fuel off"), it.TagClear(tag="fuel off"), NEGATIVE),
    (work("closed", "fuel valve"), it.TagClear(tag="fuel off"), AFFIRM),
    (work("raised", "machine"), it.TagClear(tag="blocked up"), AFFIRM),
)

starting = st.lists(
    st.one_of(
        st.sampled_from(PUT_RIGHT).map(lambda some: ("calls", some)),
        st.sampled_from((*PUT_RIGHT, *NOT_PUT_RIGHT)).map(lambda some: ("calls", some)),
        st.sampled_from((*OPENINGS, *HABITS)).map(lambda some: ("calls", some)),
        st.sampled_from(STARTING).map(lambda call: ("calls", (call,))),
        st.sampled_from((AFFIRM, NEGATIVE, CLEAR_TO_START, DISREGARD)).map(
            lambda call: ("calls", (call,))
        ),
        st.lists(st.sampled_from(STARTING), min_size=1, max_size=2).map(
            lambda some: ("doubt", some)
        ),
        st.sampled_from((5, 70, 7200)).map(lambda seconds: ("wait", seconds)),
        st.just(("restart", None)),
    ),
    min_size=1,
    max_size=12,
)

GATE_EXAMPLES = int(os.environ.get("GATE_EXAMPLES", "250"))
"""How many jobs are tried; a long run sets more."""


@settings(max_examples=GATE_EXAMPLES, deadline=None)
@given(jobs, starting)
def test_the_gate_is_never_open_while_a_reason_against_starting_stands(
    papers: tuple, what: list
) -> None:
    """Against an oracle that reads the records and knows nothing of the gate."""
    job = Job(*papers).open()
    seen = 0
    for kind, value in what:
        for call in value if kind == "calls" else (None,):
            happens(job, kind, value, call)
            if not gate.reasons_against_start(job.state):
                assert start_oracle.reasons({"test": job.records}) == []
            for record in job.records[seen:]:
                if _opens(record):
                    assert start_oracle.reasons({"test": job.records[: record.seq - 1]}) == []
            seen = len(job.records)


def happens(job: Job, kind: str, value: Any, call: it.Intent | None) -> None:
    """Let one thing happen: a call, a doubtful one, time that passes, a restart."""
    if call is not None:
        job.call(call)
    elif kind == "doubt":
        job.doubt(*value)
    elif kind == "wait":
        job.wait(seconds=value).ring()
    else:
        again = [
            Record(r.seq, r.at, EVENT.validate_json(r.event.model_dump_json())) for r in job.records
        ]
        job.state = fold(again, shipped_rules())
        job.resume()


def _opens(record: Record) -> bool:
    """Whether the gate was open here."""
    event = record.event
    return isinstance(event, ev.StartAffirmed) or (
        isinstance(event, ev.StartChecked) and not event.reasons
    )


class Shop:
    """Jobs of several machines that are worked on in turn; each knows the others of its machine as
    a session does."""

    def __init__(self, papers: tuple) -> None:
        self.papers = papers
        self.now = MONDAY
        self.jobs: dict[str, tuple[int, Job]] = {}

    def job(self, machine: int, number: int) -> str:
        """Take up a job of a machine; it is opened when it is first taken up."""
        name = f"{machine}-{number}"
        if name not in self.jobs:
            job = Job(*self.papers, now=self.now)
            self.jobs[name] = (machine, job)
            self.learn(name, new=True)
            job.open()
        return name

    def learn(self, name: str, *, new: bool = False) -> None:
        """Take in how the machine stands by its other jobs."""
        machine, job = self.jobs[name]
        others = [
            OtherSession(other, one.records[0].at, one.records[-1].at, one.state)
            for other, (its, one) in self.jobs.items()
            if its == machine and other != name
        ]
        opened = None if new else job.records[0].at
        known = machine_known(others, shipped_rules(), opened=opened)
        job.keep(ev.MachineKnown.model_validate_json(known.model_dump_json()))

    def happens(self, name: str, kind: str, value: Any, call: it.Intent | None) -> None:
        """Let one thing happen in a job; no two happen at the same time."""
        _, job = self.jobs[name]
        job.now = self.now
        question = job.asked
        answers_it = question is not None and question.about in ("start", "clear-tag")
        # When a session looks at the others again: see ``companion.session.other_timers``.
        if call == CLEAR_TO_START or (call == AFFIRM and answers_it) or kind == "restart":
            self.learn(name)
        happens(job, kind, value, call)
        self.now = max(job.now, self.now) + timedelta(seconds=1)

    def of_machine(self, name: str) -> dict[str, list[Record]]:
        """The records of every job of the same machine."""
        machine, _ = self.jobs[name]
        return {
            other: list(one.records) for other, (its, one) in self.jobs.items() if its == machine
        }


SHOP_EXAMPLES = int(os.environ.get("SHOP_EXAMPLES", "120"))
"""How many stories of several jobs are tried; a long run sets more."""

ASKING: tuple[tuple[str, Any], ...] = (("calls", (CLEAR_TO_START, AFFIRM)),)

in_turn = st.lists(
    st.tuples(
        st.sampled_from((0, 0, 0, 1)),
        st.integers(min_value=0, max_value=2),
        st.lists(
            st.one_of(
                st.sampled_from(PUT_RIGHT).map(lambda some: ("calls", some)),
                st.sampled_from(PUT_RIGHT).map(lambda some: ("calls", some)),
                st.sampled_from(PUT_RIGHT).map(lambda some: ("calls", some)),
                st.sampled_from(NOT_PUT_RIGHT).map(lambda some: ("calls", some)),
                st.sampled_from((*OPENINGS, *HABITS)).map(lambda some: ("calls", some)),
                st.sampled_from(STARTING).map(lambda call: ("calls", (call,))),
                st.sampled_from(
                    (("restart", None), ("calls", (plain("job.park"), AFFIRM, plain("resume"))))
                ),
            ),
            min_size=1,
            max_size=2,
        ),
    ),
    min_size=1,
    max_size=6,
)


@settings(max_examples=SHOP_EXAMPLES, deadline=None)
@given(st.sampled_from(((SHEET, None), (SHEET, CARD))), in_turn)
def test_the_gate_of_no_job_is_open_while_any_job_of_the_machine_holds_it(
    papers: tuple, turns: list
) -> None:
    """The same over several jobs of several machines, worked on in turn."""
    shop = Shop(papers)
    for machine, number, what in turns:
        name = shop.job(machine, number)
        job = shop.jobs[name][1]
        for kind, value in (*what, *ASKING):
            for call in value if kind == "calls" else (None,):
                seen = len(job.records)
                before = shop.of_machine(name)
                shop.happens(name, kind, value, call)
                for record in job.records[seen:]:
                    if _opens(record):
                        before[name] = job.records[: record.seq - 1]
                        assert start_oracle.reasons(before, name) == []


def test_what_one_job_left_is_found_in_another_and_only_of_its_machine() -> None:
    """Else the property above would hold because nothing is ever open or shut."""
    shop = Shop((SHEET, None))
    first, second, other = (shop.job(0, 0), shop.job(0, 1), shop.job(1, 0))
    shop.happens(first, "calls", None, work("removed", "guard"))
    for name in (first, second, other):
        shop.happens(name, "calls", None, CLEAR_TO_START)
        shut = name != other
        assert bool(start_oracle.reasons(shop.of_machine(name), name)) == shut
        assert bool(shop.jobs[name][1].last(ev.StartChecked).reasons) == shut
    for call in (work("installed", "guard"), it.TagClear(tag="guard off"), AFFIRM):
        shop.happens(second, "calls", None, call)
    shop.happens(first, "calls", None, CLEAR_TO_START)
    assert start_oracle.reasons(shop.of_machine(first), first) == []
    assert shop.jobs[first][1].last(ev.StartChecked).reasons == ()


@pytest.mark.parametrize("wrong", NOT_PUT_RIGHT, ids=lambda wrong: str(len(wrong)))
def test_what_is_not_put_right_is_found_by_the_oracle_and_holds_every_job(wrong: tuple) -> None:
    """One danger alone, so that nothing else can be what keeps the gate shut."""
    shop = Shop((SHEET, None))
    first = shop.job(0, 0)
    for call in wrong:
        shop.happens(first, "calls", None, call)
    # One that goes on, one that is taken up again, and two that are opened after it.
    shop.happens(first, "restart", None, None)
    for name in (first, shop.job(0, 1), shop.job(0, 2)):
        shop.happens(name, "calls", None, CLEAR_TO_START)
        assert start_oracle.reasons(shop.of_machine(name), name)
        assert shop.jobs[name][1].last(ev.StartChecked).reasons
    shop.happens(other := shop.job(1, 0), "calls", None, CLEAR_TO_START)
    assert shop.jobs[other][1].last(ev.StartChecked).reasons == ()


def test_the_oracle_itself_finds_what_it_should() -> None:
    """Else the property above would hold for the wrong reason."""
    for call in (
        drained("20"),
        drained("1", "pint", "fuel"),
        level("low"),
        RUNNING,
        it.TagHang(tag="fuel off"),
        *(work("removed", part) for part in ("guard", "drive belt", "shear pin", "plug wire")),
        work("loosened", "handle bolt"),
        work("raised", "machine"),
        it.Finding(part="handle bolt", condition="loose"),
    ):
        # Without the tags that the program hung: the oracle finds them by itself.
        job = Job().call(call)
        bare = [
            record
            for record in job.records
            if not isinstance(record.event, ev.TagHung) or record.event.by == "voice"
        ]
        assert start_oracle.reasons({"test": bare}), call
    calm = Job().call(level("full"), reading("gap", "30", "thou"))
    assert start_oracle.reasons({"test": calm.records}) == []


@settings(max_examples=100, deadline=None)
@given(jobs, happenings)
def test_while_oil_may_be_missing_its_tag_hangs(papers: tuple, what: list) -> None:
    """Checked against a plain reading of the rule, apart from the code that hangs the tag."""
    job = live(papers, what)
    effective = job.state.effective
    oil = [
        *(f for f in effective(job.state.fluids) if f.event.fluid == "oil" and f.event.value > 0),
        *(f for f in effective(job.state.levels) if f.event.fluid == "oil"),
    ]
    events = [fact.event for fact in sorted(oil, key=lambda fact: fact.place)]
    drainings = [
        i for i, e in enumerate(events) if isinstance(e, ev.FluidMoved) and e.action == "drained"
    ]
    levels = [i for i, e in enumerate(events) if isinstance(e, ev.LevelRead)]
    never_full = levels and events[levels[-1]].level != "full"
    drained_since = drainings and (not levels or levels[-1] < drainings[-1])
    never_filled = drainings and not any(
        isinstance(e, ev.FluidMoved) and e.action == "added" for e in events[drainings[0] :]
    )
    if never_full or drained_since or (never_filled and not _only_excess(events)):
        assert "no oil" in job.tags


def _only_excess(events: list) -> bool:
    """Whether oil was let out of a sump called over, which is no draining."""
    return any(isinstance(event, ev.LevelRead) and event.level == "over" for event in events)


@settings(max_examples=75, deadline=None)
@given(jobs, happenings)
def test_no_record_changes_an_earlier_one(papers: tuple, what: list) -> None:
    job = Job(*papers).open()
    for kind, value in what:
        before = list(job.records)
        facts = _facts(job.state)
        if kind == "calls":
            job.call(*value)
        elif kind == "doubt":
            job.doubt(*value)
        elif kind == "wait":
            job.wait(seconds=value).ring()
        else:
            job.resume()
        assert job.records[: len(before)] == before
        assert [record.seq for record in job.records] == list(range(1, len(job.records) + 1))
        # Nothing that was recorded is lost from the state either.
        assert all(
            now[: len(then)] == then for then, now in zip(facts, _facts(job.state), strict=True)
        )
        for record in job.records[len(before) :]:
            for named in ("corrects", "record", "replaces", "restores", "heard"):
                number = getattr(record.event, named, None)
                assert number is None or number < record.seq


def _facts(state: State) -> list[tuple]:
    return [
        state.readings,
        state.fluids,
        state.levels,
        state.findings,
        state.work,
        state.parts_needed,
        state.parts_used,
        state.follow_ups,
        state.notes,
    ]


@settings(max_examples=75, deadline=None)
@given(jobs, happenings)
def test_the_companion_never_says_safe(papers: tuple, what: list) -> None:
    job = live(papers, what)
    for record in job.records:
        # The step "make safe" tells the person what to do; it claims nothing.
        text = words([record.event], []).lower()
        assert "safe" not in text.replace("make-safe", "").replace("make safe", "")


@settings(max_examples=50, deadline=None)
@given(st.lists(calls, max_size=30))
def test_one_reading_counts_for_each_that_was_called_and_not_taken_back(what: list) -> None:
    job = Job(SHEET)
    for some in what:
        job.call(*some)
    corrections = sum(fact.event.corrects is not None for fact in job.state.readings)
    counted = job.state.effective(job.state.readings)
    assert len(counted) <= len(job.state.readings) - corrections
    assert all(isinstance(fact.event.value, Decimal) for fact in counted)
    assert len({fact.place for fact in counted}) == len(counted)
