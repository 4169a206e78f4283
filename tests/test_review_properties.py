"""What holds whatever is called at the bench and looked over afterwards, in whatever order."""

from __future__ import annotations

import os

from hypothesis import example, given, settings
from hypothesis import strategies as st

from companion.intent import intents as it
from companion.job import events as ev
from companion.job import gate
from companion.job.at_stake import tags_down, taken_off
from companion.job.events import EVENT
from companion.job.folding.evolve import fold
from companion.job.record import Record
from companion.job.review import Said, confirm_note, correct, mark, set_aside
from companion.job.review_turn import Change, Looked, NotReviewed
from companion.job.reviewed_call import find_call
from companion.job.state import State
from companion.shelf.rules import shipped_rules
from companion.speak.questions import question_phrase
from tests import start_oracle
from tests.bench_job import CARD, SHEET, Job, drained, level, reading, work
from tests.test_job_properties import PUT_RIGHT, STARTING

SAID: tuple[it.Intent, ...] = tuple(
    call for call in STARTING if not isinstance(call, it.Correction)
)
"""What turns out to have been said: anything, but "correction" alone, which is no whole call."""

NOTE = it.Note(text="the cable is frayed")

calls = st.one_of(
    st.sampled_from(STARTING).map(lambda call: (call,)),
    st.sampled_from((*PUT_RIGHT, (NOTE,))),
).map(lambda some: ("calls", some, 0, False))
which = st.integers(0, 10_000)
reviews = st.one_of(
    st.tuples(st.just("correct"), st.sampled_from(SAID), which, st.booleans()),
    st.tuples(st.just("correct"), st.sampled_from(SAID), which, st.booleans()),
    st.tuples(st.just("set aside"), st.none(), which, st.booleans()),
    st.tuples(
        st.sampled_from(("right", "wrong", "note", "sign off")), st.none(), which, st.just(True)
    ),
    st.tuples(st.sampled_from(("wait", "restart")), st.none(), st.just(0), st.just(True)),
)
happenings = st.lists(st.one_of(calls, calls, reviews), min_size=6, max_size=30)
jobs = st.sampled_from(((None, None), (SHEET, None), (SHEET, CARD)))


def called(*some: it.Intent) -> tuple[str, object, int, bool]:
    return "calls", some, 0, False


EVERY_KIND = example(
    (SHEET, None),
    [
        called(drained("20")),
        ("correct", work("removed", "guard"), 0, True),
        ("correct", reading("gap", "30", "thou"), 0, True),
        ("correct", level("low"), 0, True),
        ("correct", it.Finding(part="drive belt", condition="cracked"), 0, True),
        ("correct", drained("10"), 0, True),
        ("set aside", None, 0, True),
        called(NOTE),
        ("note", None, 0, True),
        ("right", None, 0, True),
        ("wrong", None, 0, True),
    ],
)
"""A life in which everything comes up that a review can do, whatever else is tried."""

EXAMPLES = int(os.environ.get("REVIEW_EXAMPLES", "80"))


class Lived:
    """A job at the bench, looked over in between, and every change that a review made to it."""

    def __init__(self, papers: tuple, what: list) -> None:
        self.job = Job(*papers).open()
        self.changes: list[tuple[State, Change]] = []
        for happening in what:
            self._happen(*happening)

    def _happen(self, kind: str, what: object, number: int, affirmed: bool) -> None:
        if kind == "calls":
            self.job.call(*what)
        elif kind == "wait":
            self.job.wait(minutes=3).ring()
        elif kind == "restart":
            self.job.resume()
        elif kind == "sign off":
            self.job.keep(ev.SignedOff(by="Rosa"))
        else:
            self._review(kind, what, number, affirmed)

    def _review(self, kind: str, what: object, number: int, affirmed: bool) -> None:
        job = self.job
        notes = [fact.seq for fact in job.state.notes]
        among = notes if kind == "note" and notes else range(1, len(job.records) + 1)
        # The first from there on that is of a call at all.
        first_tried = number % len(among)
        tried = (*among[first_tried:], *among[:first_tried])
        call = next(filter(None, (find_call(job.records, each) for each in tried)), None)
        if call is None:
            return
        looked = Looked("Rosa", job.now, "misheard")
        first = call.heard or call.fact
        assert first is not None
        then = fold(job.records[: first.seq - 1], shipped_rules())
        try:
            if kind == "correct":
                change = correct(job.state, call, Said("so", what, then), looked)
            elif kind == "set aside":
                change = set_aside(job.state, call, looked)
            elif kind == "note":
                change = confirm_note(job.state, call, "in other words", looked)
            else:
                change = mark(job.state, call, "right" if kind == "right" else "wrong", looked)
        except NotReviewed:
            return
        if change.asks and not affirmed:
            return
        before = job.state
        for event in change.events:
            job.keep(event)
        self.changes.append((before, change))


@settings(max_examples=EXAMPLES)
@given(jobs, happenings)
@EVERY_KIND
def test_a_review_brings_what_was_foreseen_and_no_danger_goes_unaffirmed(
    papers: tuple, what: list
) -> None:
    lived = Lived(papers, what)
    job = lived.job
    the_state_is_a_fold_of_the_records(job)
    nothing_is_lost_and_no_two_facts_stand_in_one_place(job)
    the_gate_is_shut_for_whatever_still_stands(job)
    for before, change in lived.changes:
        state = fold(job.records[: before.seq + len(change.events)], shipped_rules())
        assert state == change.after
        nothing_comes_off_the_machine_without_an_affirm(before, change)
        it_takes_no_part_in_the_talk_at_the_bench(before, change.after)


def the_state_is_a_fold_of_the_records(job: Job) -> None:
    assert fold(job.records, shipped_rules()) == job.state
    again = [
        Record(record.seq, record.at, EVENT.validate_json(record.event.model_dump_json()))
        for record in job.records
    ]
    assert fold(again, shipped_rules()) == job.state


def nothing_is_lost_and_no_two_facts_stand_in_one_place(job: Job) -> None:
    recorded = [record.seq for record in job.records if isinstance(record.event, ev.Correctable)]
    assert sorted(fact.seq for fact in job.state.facts) == recorded
    counting = [fact.place for fact in job.state.effective(job.state.facts)]
    assert len(counting) == len(set(counting))
    for facts in (job.state.readings, job.state.fluids, job.state.work, job.state.notes):
        assert [fact.place for fact in facts] == sorted(fact.place for fact in facts)


def the_gate_is_shut_for_whatever_still_stands(job: Job) -> None:
    stands = start_oracle.reasons({"test": job.records})
    assert not stands or gate.reasons_against_start(job.state)


def nothing_comes_off_the_machine_without_an_affirm(before: State, change: Change) -> None:
    asked = [each for each in change.events if isinstance(each, ev.Asked)]
    answered = [each for each in change.events if isinstance(each, ev.Answered)]
    assert len(asked) == len(answered) == len(change.asks)
    down = {event.tag for event in change.events if isinstance(event, ev.TagCleared)}
    assert down <= {each.tag for each in asked if each.about == "clear-tag"}
    read = " ".join(question_phrase(change.after, each).text for each in asked).lower()
    for reason in taken_off(before, change.after):
        assert reason.name in read
    if not asked:
        assert tags_down(before, change.after) == ()
        against = gate.reasons_against_start(change.after)
        assert against or not gate.reasons_against_start(before)


def it_takes_no_part_in_the_talk_at_the_bench(before: State, after: State) -> None:
    for name in (
        "question",
        "last_question",
        "last_call",
        "step",
        "standby",
        "parked",
        "closed",
        "engine_running",
        "start_affirmed",
        "last_said",
    ):
        assert getattr(after, name) == getattr(before, name)
    undo = {entry.fact.seq for entry in before.undo}
    assert all(entry.fact.seq in undo for entry in after.undo)


def test_what_is_lived_through_has_reviews_of_every_kind() -> None:
    seen: set[str] = set()

    @settings(max_examples=EXAMPLES)
    @given(jobs, happenings)
    @EVERY_KIND
    def live(papers: tuple, what: list) -> None:
        for _, change in Lived(papers, what).changes:
            kinds = {event.kind for event in change.events}
            judged = next(e.judgement for e in change.events if isinstance(e, ev.Reviewed))
            seen.update((judged, *kinds))
            if change.asks:
                seen.add("affirmed")

    live()
    assert seen >= {"right", "wrong", "corrected", "set-aside", "note-confirmed", "affirmed"}
    assert seen >= {"reading", "fluid", "level", "work", "finding", "tag.hung", "tag.cleared"}
