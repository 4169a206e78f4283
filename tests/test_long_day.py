"""A long day: a call costs the same in the evening as in the morning, and what was called far back
still counts for what it did.

Work is counted, never timed. What is kept folded is held against the same worked out plainly, from
all that was called.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import closing
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.handbook.units import to_si
from companion.job import events as ev
from companion.job import fluids
from companion.job.dangers import Called, dangers, known_counts, replay
from companion.job.folding.evolve import evolve, fold
from companion.job.ledger import FAR_APART, PAGE, Facts, Ledger, Places
from companion.job.numbered import Numbered
from companion.job.order_of_time import in_order_of_time
from companion.job.record import Record
from companion.job.sheet import SpecSheet
from companion.job.state import State
from companion.job.state_values import Fact
from companion.log.check import check_log
from companion.log.line import decode
from companion.log.reader import read_log
from companion.log.writer import LogWriter
from companion.session.opening import open_session, resume_session
from companion.session.other_timers import LOGS_AT_ONCE, OtherTimers
from companion.shelf.load import load_card, load_sheet
from companion.shelf.rules import shipped_rules
from tests.bench_job import SHEET
from tests.counted import lines_run, times_called
from tests.logs import si

MONDAY = datetime(2026, 4, 13, 7, 30, tzinfo=UTC)


# --- what a call costs --------------------------------------------------------------------------

CALLS = (
    "gap thirty thou", "correction forty", "disregard", "compression one hundred psi",
    "drained twenty ounces of oil", "affirm", "oil level full", "air filter dirty",
    "cleaned air filter", "removed spark plug", "replaced spark plug", "need two shear pins",
    "used one spark plug", "follow up carburetor", "note the cable is frayed", "read back gap",
    "read back oil", "start soak timer ten minutes", "cancel soak timer", "tag fuel off",
    "clear tag fuel off", "affirm", "how much more oil", "clear to start", "negative",
    "engine running", "engine stopped", "step done", "the dog wants out", "disregard", "affirm",
)  # fmt: skip


def a_day(records: int) -> Iterator[ev.AnyEvent]:
    """Facts without end, corrected and disregarded far back as well as just now."""
    number = 3
    gaps = [number]
    while number < records:
        kind = number % 10
        event: ev.AnyEvent
        if kind < 3:
            corrects = gaps[len(gaps) // 2] if kind == 2 else None
            event = read("gap", 30 + number % 7, corrects)
            gaps.append(number)
        elif kind == 3:
            event = moved("drained" if number % 20 == 3 else "added", 20)
        elif kind == 4:
            event = ev.LevelRead(fluid="oil", level="full")
        elif kind == 5:
            event = ev.FindingRecorded(part="air filter", condition="dirty")
        elif kind == 6:
            event = ev.WorkRecorded(part="air filter", action="cleaned")
        elif kind == 7:
            event = ev.NoteKept(about="note", text=f"noted {number}", draft=False)
        elif kind == 8:
            event = ev.Disregarded(record=gaps[-1])
        else:
            event = ev.Said(text="Gap, thirty.", tone="recorded")
        yield event
        number += 1


def read(measure: str, value: int, corrects: int | None = None) -> ev.ReadingRecorded:
    return ev.ReadingRecorded(
        measure=measure,
        value=Decimal(value),
        unit="thou",
        si=si(str(value), "thou"),
        verdict="in",
        corrects=corrects,
    )


def moved(
    action: Any, value: int, fluid: str = "oil", corrects: int | None = None
) -> ev.FluidMoved:
    return ev.FluidMoved(
        action=action,
        fluid=fluid,
        value=Decimal(value),
        unit="ounce",
        si=si(str(value), "ounce"),
        corrects=corrects,
    )


def day_of(folder: Path, records: int) -> Path:
    """A session with so many records."""
    session = open_session(
        folder,
        at=MONDAY,
        card=load_card("four-stroke-service"),
        sheet=load_sheet("quillmoor-tiller"),
    )
    session.close()
    with LogWriter.open(folder) as writer:
        writer.append([ev.StepEntered(step="make-safe", by="opening")], MONDAY)
        writer.append(list(a_day(records)), MONDAY + timedelta(hours=1))
    return folder


@pytest.fixture(scope="module")
def days(tmp_path_factory: pytest.TempPathFactory) -> dict[int, Path]:
    """Two days, one ten times as long."""
    shop = tmp_path_factory.mktemp("shop")
    return {count: day_of(shop / f"day-{count}", count) for count in (1_000, 10_000)}


def test_a_call_is_no_more_work_after_ten_thousand_records(days: dict[int, Path]) -> None:
    work: dict[int, list[int]] = {}
    at = MONDAY + timedelta(hours=2)
    for count, folder in days.items():
        with closing(resume_session(folder, at=at)) as session:
            assert session.state.seq >= count
            # Once round first: what a fold is over a whole log is worked out at the first call.
            for text in CALLS:
                session.typed(text, at)
            work[count] = [
                lines_run(lambda text=text: session.typed(text, at))  # type: ignore[misc]
                for text in CALLS
            ]
        assert check_log(folder).ok
    for text, few, many in zip(CALLS, work[1_000], work[10_000], strict=True):
        assert many <= 1.2 * few + 500, (text, few, many)


def test_a_log_is_taken_apart_once_when_its_session_is_resumed(days: dict[int, Path]) -> None:
    folder = days[1_000]
    records = len(read_log(folder).records)
    at = MONDAY + timedelta(hours=3)
    # And the one record that it writes, read back before it counts.
    assert times_called(decode, lambda: resume_session(folder, at=at).close()) == records + 1


def test_a_timer_elsewhere_costs_only_what_was_written_since(tmp_path: Path) -> None:
    folder = day_of(tmp_path / "day", 100)
    at = MONDAY + timedelta(hours=4)
    with LogWriter.beside(folder) as writer:
        due = at + timedelta(hours=1)
        writer.append([ev.TimerStarted(name="soak", seconds=3600, due=due)], at)
    watch = OtherTimers(tmp_path / "bench", lambda: [folder])
    assert times_called(decode, lambda: watch.ring(at)) == len(read_log(folder).records)
    with LogWriter.beside(folder) as writer:
        writer.append([ev.Trouble(what="invented")], at)
    later = at + timedelta(minutes=1)
    assert times_called(decode, lambda: watch.ring(later)) == 1
    rang = watch.ring(due)
    assert rang is not None
    assert rang.name == "soak"


def test_a_shop_of_many_years_is_looked_through_a_few_logs_at_a_time(tmp_path: Path) -> None:
    folders = []
    for number in range(LOGS_AT_ONCE + 20):
        folder = tmp_path / f"session-{number}"
        folder.mkdir()
        (folder / "log.jsonl").write_bytes(b'{"v":1}\n')
        folders.append(folder)
    watch = OtherTimers(tmp_path / "bench", lambda: folders)
    glances = [times_called(OtherTimers._read, lambda: watch.ring(MONDAY)) for _ in range(3)]
    assert glances == [LOGS_AT_ONCE, 20, 0]
    again = MONDAY + timedelta(minutes=1)
    assert times_called(OtherTimers._read, lambda: watch.ring(again)) == 0


# --- ledgers, against plain lists ---------------------------------------------------------------


def fact(seq: int, place: int | None = None, name: str = "gap") -> Fact[Any]:
    return Fact(seq, MONDAY, read(name, 30), seq if place is None else place)


Change = tuple[str, int]


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["last", "last", "last", "between", "out", "fold"]), st.integers(0)
        ),
        max_size=60,
    ),
    st.integers(0, 3 * FAR_APART),
)
@settings(max_examples=60, deadline=None)
def test_a_ledger_is_what_a_list_would_be(changes: list[Change], begin: int) -> None:
    ledger: Places[Fact[Any]] = Places(fact(3 * number) for number in range(begin))
    plain = list(ledger)
    kept: list[tuple[Places[Fact[Any]], list[Fact[Any]]]] = []
    for number, (change, pick) in enumerate(changes):
        kept.append((ledger, list(plain)))
        seq = 10_000 + number
        if change == "last":
            ledger, plain = ledger.having(fact(seq)), [*plain, fact(seq)]
        elif change == "between":
            entry = fact(seq, place=pick % 3_000)
            ledger = ledger.having(entry)
            plain = sorted([*plain, entry], key=lambda each: (each.place, each.seq))
        elif change == "out" and plain:
            entry = plain.pop(pick % len(plain))
            ledger = ledger.lacking(entry)
        else:
            places = ledger.fold("places", (), lambda seen, each: (*seen, each.seq))
            assert places == tuple(each.seq for each in plain)
    # Whatever was made from them, those before are as they were.
    for earlier, list_of_it in [*kept, (ledger, plain)]:
        assert list(earlier) == list_of_it
        assert earlier == tuple(list_of_it)
        assert len(earlier) == len(list_of_it)
        assert list(reversed(earlier)) == list_of_it[::-1]
        assert earlier[-3:] == tuple(list_of_it[-3:])
        assert [earlier[place] for place in (0, -1) if earlier] == [
            list_of_it[place] for place in (0, -1) if list_of_it
        ]
        total = earlier.fold("sum", 0, lambda so_far, each: 7 * so_far + each.seq)
        plainly = 0
        for each in list_of_it:
            plainly = 7 * plainly + each.seq
        assert total == plainly
        for each in list_of_it[:: max(1, len(list_of_it) // 5)]:
            assert earlier.at(each.place, each.seq) == each
            until = [other for other in list_of_it if other.place <= each.place]
            assert earlier.until(each.place) == until[-1]
            assert list(earlier.after(each.place)) == [
                other for other in reversed(list_of_it) if other.place > each.place
            ]


@given(st.lists(st.tuples(st.booleans(), st.integers(1, 600)), max_size=80))
@settings(max_examples=60, deadline=None)
def test_what_is_known_by_number_is_what_a_dictionary_would_hold(
    changes: list[tuple[bool, int]],
) -> None:
    numbered: Numbered[int] = Numbered()
    plain: dict[int, int] = {}
    for having, number in changes:
        before, was = numbered, dict(plain)
        if having:
            numbered, plain[number] = numbered.having(number, number * 2), number * 2
        else:
            numbered = numbered.lacking(number)
            plain.pop(number, None)
        assert before == was
        assert numbered == plain
        assert len(numbered) == len(plain)


# --- jobs, worked out plainly -------------------------------------------------------------------

FLUIDS = ("oil", "fuel")
PARTS = ("spark plug", "head bolt", "left wheel", "wheels", "guard")
ACTIONS = ("removed", "installed", "replaced", "cleaned", "loosened", "tightened")
CONDITIONS = ("dirty", "missing", "broken", "cracked")


@st.composite
def happened(draw: st.DrawFn) -> list[Record]:
    """Any job: facts, corrections and disregards of anything, other sessions, a clock that is set
    back."""
    opened = ev.SessionOpened(
        session="job", machine=SHEET, card=None, call_sign="bench", ounce="us", software="0"
    )
    records = [Record(1, MONDAY, opened)]
    for seq in range(2, draw(st.integers(2, 40))):
        minutes = draw(st.integers(-5, 20))
        at = records[-1].at + timedelta(minutes=minutes)
        corrects = draw(st.none() | st.none() | st.integers(1, seq + 1))
        records.append(Record(seq, at, draw(an_event(seq, corrects, records))))
    return records


@st.composite
def an_event(
    draw: st.DrawFn, seq: int, corrects: int | None, before: Sequence[Record]
) -> ev.AnyEvent:
    kind = draw(st.integers(0, 11))
    part, fluid = draw(st.sampled_from(PARTS)), draw(st.sampled_from(FLUIDS))
    by: Any = draw(st.sampled_from(["voice", "step"]))
    count = draw(st.integers(1, 3))
    if kind < 2:
        action = draw(st.sampled_from(ACTIONS))
        return ev.WorkRecorded(part=part, action=action, count=count, by=by, corrects=corrects)
    if kind == 2:
        condition = draw(st.sampled_from(CONDITIONS))
        return ev.FindingRecorded(part=part, condition=condition, corrects=corrects)
    if kind < 5:
        action = draw(st.sampled_from(["drained", "added"]))
        return moved(action, draw(st.integers(0, 30)), fluid, corrects)
    if kind == 5:
        level: Any = draw(st.sampled_from(["full", "low", "over"]))
        return ev.LevelRead(fluid=fluid, level=level, corrects=corrects)
    if kind == 6:
        return read(draw(st.sampled_from(["gap", "end play"])), count, corrects)
    if kind < 9:
        restores = draw(st.none() | st.integers(1, seq))
        return ev.Disregarded(record=draw(st.integers(1, seq + 1)), restores=restores)
    if kind == 9:
        return draw(
            st.sampled_from([ev.TagHung(tag="fuel off", by="voice"), ev.TagCleared(tag="fuel off")])
        )
    if kind == 10:
        facts = [
            ev.EarlierFact(session="other", at=each.at + timedelta(minutes=3), event=each.event)
            for each in before
            if isinstance(each.event, ev.WorkRecorded | ev.FluidMoved | ev.LevelRead)
        ]
        return ev.MachineKnown(facts=tuple(facts[-3:]))
    return ev.NoteKept(about="note", text="noted", draft=False, corrects=corrects)


def plainly_superseded(records: Sequence[Record]) -> tuple[dict[int, str], dict[int, int]]:
    superseded: dict[int, str] = {}
    corrections: dict[int, int] = {}
    for record in records:
        event = record.event
        if isinstance(event, ev.Correctable) and event.corrects is not None:
            if event.corrects < record.seq:
                superseded.setdefault(event.corrects, "corrected")
                corrections[record.seq] = event.corrects
        elif isinstance(event, ev.Disregarded):
            superseded[event.record] = "disregarded"
            if event.restores is not None:
                superseded.pop(event.restores, None)
                if event.restores in corrections:
                    superseded.setdefault(corrections[event.restores], "corrected")
    return superseded, corrections


def place_of(seq: int, corrections: dict[int, int]) -> int:
    while seq in corrections:
        seq = corrections[seq]
    return seq


KINDS: dict[str, type[ev.Event]] = {
    "work": ev.WorkRecorded,
    "findings": ev.FindingRecorded,
    "fluids": ev.FluidMoved,
    "levels": ev.LevelRead,
    "readings": ev.ReadingRecorded,
    "notes": ev.NoteKept,
}


def plain_facts(records: Sequence[Record], kind: str) -> list[Fact[Any]]:
    _, corrections = plainly_superseded(records)
    facts = [
        Fact(each.seq, each.at, each.event, place_of(each.seq, corrections))
        for each in records
        if isinstance(each.event, KINDS[kind])
    ]
    return sorted(facts, key=lambda each: each.place)


def plain_counting(records: Sequence[Record], *kinds: str) -> list[Fact[Any]]:
    superseded, _ = plainly_superseded(records)
    return [
        each for kind in kinds for each in plain_facts(records, kind) if each.seq not in superseded
    ]


def plain_dangers(state: State, records: Sequence[Record]) -> object:
    calls = [
        Called(each.event, each.at, each.seq, each.session)
        for each in in_order_of_time(state, plain_counting(records, "work", "findings"))
        if isinstance(each.event, ev.WorkRecorded | ev.FindingRecorded)
    ]
    return replay(calls, state.rules.dangers, known_counts(state))


def plain_standing(state: State, records: Sequence[Record], fluid: str) -> tuple[Any, ...]:
    """How a fluid stands, from all that was called of it."""
    spec = fluids.spec_of(state, fluid)
    capacity = Decimal(0)
    if spec is not None and spec.capacity is not None and spec.unit is not None:
        capacity = to_si(spec.capacity, spec.unit, ounce=state.ounce)[0]
    drained = added = filled = poured = excess = Decimal(0)
    emptied = settled = False
    level = since = None
    for each in in_order_of_time(state, plain_counting(records, "fluids", "levels")):
        event = each.event
        if not isinstance(event, ev.FluidMoved | ev.LevelRead) or event.fluid != fluid:
            continue
        if isinstance(event, ev.LevelRead):
            level, settled, since = event.level, True, each
            if level == "over":
                excess = (
                    max(fluids.EXCESS_SHARE * filled, fluids.OVER_SHARE * capacity)
                    or fluids.OVER_UNKNOWN
                )
            elif level == "full":
                excess = Decimal(0)
            continue
        volume = to_si(event.value, event.unit, ounce=state.ounce)[0]
        if volume <= 0:
            continue
        own = volume if each.session is None else Decimal(0)
        if event.action == "added":
            added, poured, settled = added + own, poured + volume, False
            if emptied:
                filled += volume
                excess = fluids.EXCESS_SHARE * filled
            if capacity:
                excess = max(excess, poured - capacity)
            continue
        drained, since = drained + own, each
        if volume <= excess:
            excess -= volume
            filled, poured = filled - min(volume, filled), poured - min(volume, poured)
        else:
            emptied, filled, poured, excess = True, Decimal(0), Decimal(0), Decimal(0)
        level, settled = None, False
    return drained, added, emptied, filled, level, settled, None if since is None else since.at


@given(happened(), st.integers(1, 5))
@settings(max_examples=150, deadline=None)
def test_a_job_is_what_it_would_be_worked_out_plainly(records: list[Record], every: int) -> None:
    state = State.start(shipped_rules())
    for number, record in enumerate(records, start=1):
        if number % every == 0:
            # Another way on from here, as a turn that is not written takes it, changes nothing.
            dangers(evolve(state, Record(record.seq, record.at, moved("drained", 9, "fuel"))))
        state = evolve(state, record)
        if number % every and number < len(records):
            continue
        so_far = records[:number]
        superseded, corrections = plainly_superseded(so_far)
        assert state.superseded == superseded
        assert state.corrections == corrections
        for name in KINDS:
            facts: Facts[Fact[Any]] = getattr(state, name)
            assert list(facts) == plain_facts(so_far, name)
            assert list(state.effective(facts)) == plain_counting(so_far, name)
        for name, field in (("readings", "measure"), ("fluids", "fluid"), ("work", "part")):
            facts = getattr(state, name)
            plain = plain_counting(so_far, name)
            named = [getattr(each.event, field) for each in plain]
            assert facts.names == tuple(dict.fromkeys(named))
            for about in facts.names:
                its = [each for each in plain if getattr(each.event, field) == about]
                assert list(facts.about(about)) == its
        for each in plain_facts(so_far, "work"):
            assert state.fact(each.seq) == each
        assert dangers(state) == plain_dangers(state, so_far)
        for fluid in FLUIDS:
            now = fluids.balance(state, fluid)
            found = (now.drained, now.added, now.emptied, now.filled, now.level, now.settled)
            assert (*found, now.since) == plain_standing(state, so_far, fluid)
    whole = fold(records, shipped_rules())
    assert type(whole) is State
    assert whole == state


@given(happened())
@settings(max_examples=60, deadline=None)
def test_what_can_be_disregarded_is_what_was_called_and_still_stands(
    records: list[Record],
) -> None:
    state = fold(records, shipped_rules())
    undo: list[int] = []
    for record in records:
        event = record.event
        if isinstance(event, ev.Disregarded):
            undo = [seq for seq in undo if seq != event.record]
        elif isinstance(event, ev.TagCleared):
            hung = {each.seq for each in records if isinstance(each.event, ev.TagHung)}
            undo = [seq for seq in undo if seq not in hung]
        elif isinstance(event, ev.TagHung | ev.Correctable) and (
            getattr(event, "by", "voice") == "voice"
        ):
            undo.append(record.seq)
    assert [entry.fact.seq for entry in state.undo] == undo


def test_a_correction_far_back_counts_at_once() -> None:
    state = State.start(shipped_rules())
    sheet = SpecSheet.model_validate(SHEET)
    opened = ev.SessionOpened(
        session="job",
        machine=sheet.model_dump(mode="json"),
        card=None,
        call_sign="bench",
        ounce="us",
        software="0",
    )
    state = evolve(state, Record(1, MONDAY, opened))
    state = evolve(state, Record(2, MONDAY, ev.WorkRecorded(part="guard", action="removed")))
    last = 5 * FAR_APART
    for seq in range(3, last):
        part = ev.WorkRecorded(part="air filter", action="cleaned")
        state = evolve(state, Record(seq, MONDAY, part))
        if seq % PAGE == 0:
            assert [each.part for each in dangers(state)] == ["guard"]
    state = evolve(state, Record(last, MONDAY, ev.Disregarded(record=2)))
    assert dangers(state) == ()
    back = ev.Disregarded(record=last, restores=2)
    state = evolve(state, Record(last + 1, MONDAY, back))
    assert [each.part for each in dangers(state)] == ["guard"]


def test_a_ledger_equals_the_tuple_of_its_entries() -> None:
    assert Ledger() == ()
    assert Ledger([1, 2]) == (1, 2)
    assert Ledger([1]) != Ledger([2])
    with pytest.raises(IndexError):
        Ledger([1])[1]
