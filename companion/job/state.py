"""What a job is, folded from its records.

Everything the session knows is here, and all of it comes from the log: a restart, a review and an
undo replay the same records. No fact is ever taken out; what was corrected or disregarded stays,
and is named in ``State.superseded``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any, Generic, Literal, TypeVar

from pydantic import ValidationError

from companion.errors import CompanionError
from companion.handbook.units import UNITS
from companion.job import events as ev
from companion.job.card import JobCard
from companion.job.ledger import Facts, Ledger, Places
from companion.job.numbered import Numbered
from companion.job.reason import Reason
from companion.job.record import Record
from companion.job.replacing import Value, all_of
from companion.job.replacing import replace as replaced
from companion.job.rules import Rules
from companion.job.sheet import SpecSheet
from companion.job.slim import slim
from companion.job.uncollected import uncollected
from companion.job.warming import runs_engine, runs_for

Kept = TypeVar("Kept", bound=ev.Event)
Folded = TypeVar("Folded")

STILL_WARM = timedelta(hours=1)
"""An engine started again within this time goes on from the heat of the run before; our own
figure."""


@dataclass(frozen=True, slots=True)
class Fact(Generic[Kept]):
    """Something that was called, with its place in the log.

    Attributes:
        seq: Number of its record.
        at: When it was called: when it was recorded, or, where a review brought it, when that was
            in whose place it stands.
        event: What was recorded.
        place: Number of the record in whose place it stands: its own, or that of the first record
            which it corrects, however often. By ``place`` facts are in the order in which they
            happened; by ``seq`` they are not.
        session: The other session of the machine that has it; None for this one.
    """

    seq: int
    at: datetime
    event: Kept
    place: int
    session: str | None = None


@dataclass(frozen=True, slots=True)
class Tag:
    """A "do not start" tag that hangs.

    Attributes:
        tag: Its text.
        seq: Number of the record that hung it.
        at: Since when.
        by: What hung it.
        heard: Record of the call that led to it, or None.
        because: Why, where it hung by itself.
        step: The step of the card that hung it, where one did.
        reason: Why, in words, in older logs.
        session: The other session of this machine in which it was hung; None for this one.
    """

    tag: str
    seq: int
    at: datetime
    by: ev.HungBy
    heard: int | None
    because: tuple[Reason, ...] = ()
    step: str | None = None
    reason: str = ""
    session: str | None = None


@dataclass(frozen=True, slots=True)
class Timer:
    """A timer that runs or rings.

    Attributes:
        seq: Number of the record that started it.
        name: Its name; no two run under one name.
        seconds: For how long it was set.
        due: Its deadline.
        rings: How often it has rung.
        rang: When it last rang, or None.
        replaced: The timer of the same name that it ended, so that "disregard" can bring it back.
    """

    seq: int
    name: str
    seconds: float
    due: datetime
    rings: int = 0
    rang: datetime | None = None
    replaced: Timer | None = None


@dataclass(frozen=True, slots=True)
class StepMark:
    """How far a step is: numbers of the records that say so, or None.

    Attributes:
        entered: It first became the current one.
        done: It was done.
        skipped: It was skipped.
        reason: Why it was skipped; None where no reason was called.
        answer: What its question was answered with last.
        applies: Whether it applies, as the person said last.
    """

    entered: int | None = None
    done: int | None = None
    skipped: int | None = None
    reason: ev.SkipReason | None = None
    answer: Literal["affirm", "negative"] | None = None
    applies: bool | None = None


@dataclass(frozen=True, slots=True)
class Question:
    """The question that is open.

    Attributes:
        seq: Number of its record.
        at: When it was put.
        event: What was asked.
        heard: What was heard before it, where that is known: a note keeps its clip from here.
        interrupted: A timer has rung since, so that "yes" may not be meant for this question.
    """

    seq: int
    at: datetime
    event: ev.Asked
    heard: Fact[ev.Heard] | None = None
    interrupted: bool = False


@dataclass(frozen=True, slots=True)
class Undoable:
    """A record that "disregard" can set aside; ``timer`` is the one that a cancelling stopped."""

    fact: Fact[Any]
    timer: Timer | None = None

    @property
    def seq(self) -> int:
        """Number of the record."""
        return self.fact.seq

    @property
    def place(self) -> int:
        """The same: what is undone is undone in the order in which it was recorded."""
        return self.fact.seq


@dataclass(frozen=True, slots=True)
class Review:
    """What somebody said of a call after it was made.

    Attributes:
        seq: Number of its record.
        at: When it was said.
        event: What.
        after_sign_off: Whether somebody had signed the record off before.
    """

    seq: int
    at: datetime
    event: ev.Reviewed
    after_sign_off: bool


def _measure(fact: Fact[ev.ReadingRecorded]) -> str:
    return fact.event.measure


def _fluid(fact: Fact[ev.FluidMoved] | Fact[ev.LevelRead]) -> str:
    return fact.event.fluid


def _part(fact: Fact[ev.FindingRecorded] | Fact[ev.WorkRecorded]) -> str:
    return fact.event.part


class Mixed(Places[Fact[Any]]):
    """What counts of two kinds, by place; at one place those of ``_FIRST`` first."""

    __slots__ = ()

    def _key(self, entry: Fact[Any]) -> tuple[int, ...]:
        return entry.place, not isinstance(entry.event, _FIRST), entry.seq


_FIRST = (ev.WorkRecorded, ev.FluidMoved)


@dataclass(frozen=True, slots=True)
class State:
    """Immutable; every collection is a ledger or a mapping that is replaced, never changed.

    Attributes:
        rules: The tables by which it is decided what is dangerous.
        seq: Number of the last record.
        session: Name of the session, or None before it is opened.
        sheet: The spec sheet as it was when the session was opened.
        card: The job card as it was then.
        call_sign: The word that opens a call.
        ounce: Which fluid ounce this shop means.
        air_temperature: What the shop expects, in degrees Celsius, or None.
        earlier: What the machine last read before this session, one of each measure.
        serviced_before: When each item of its service intervals was last done before it.
        machine_name: What this very machine is called, where that is not its sheet's name.
        serial_given: Its serial number, where it was given when the session was opened.
        known: What the other sessions of the machine say of it.
        readings: Every reading, superseded ones too, by place; ``effective`` leaves those out. The
            same holds for fluids, levels, findings, work, parts, follow-ups, notes, serials and
            photos.
        customer: Who brought the machine, or empty.
        work_order: Number of the shop's work order, or empty.
        superseded: By record number, why it no longer counts.
        corrections: By record number, which record it was to stand in place of.
        places: By record number, the first of those in whose place it stands, where it corrects
            anything.
        of_parts: The work and the findings that count, by place.
        of_fluids: The volumes and the levels that count, by place.
        tags: Those that hang, the oldest first.
        tag_history: Every hanging and clearing of a tag, in order.
        cleared: By tag, number of the record that last took it down.
        timers: Those that run or ring, by name.
        last_cancelled: The timer stopped last.
        step: Name of the current step.
        step_by: Which call led to it.
        step_entered: Number of the record in which it became the current one; 0 if none did.
        steps: How far each step is, by name; a step never entered is missing.
        question: The one that is open, or None.
        last_question: The one that was open last.
        standby: Only "resume" and "roger" are answered.
        parked: Put aside.
        closed: Finished.
        go_on_with: The session of another job of the machine to go on with instead of this one.
        engine_running: Called running and not called stopped since.
        engine_ran: When it was last known to run, or None.
        engine_started: Number of the record that last called it running, or that ended a step of
            the card that runs it; 0 if none did.
        engine_since: Since when it has run, where that was called.
        engine_ran_for: How long it ran before it was called stopped, with the runs just before;
            None where nobody knows.
        start_affirmed: Number of the record of the last affirmed start, or None.
        undo: What "disregard" can set aside, the latest last.
        undo_tags: Of that the hangings, by tag.
        last_call: Number of the last record that a call made and a person would mean by "that".
        set_aside: What was disregarded last.
        cautions: By name, number of the record in which a caution was last spoken.
        last_said: The last answer, word for word, in the pieces it is said in.
        cut: What was said of an answer of which pieces are still to be said, or None.
        last_source: Where its figures are from, if it gave any.
        last_heard: The last utterance.
        troubles: Devices lost and the like.
        reviews: What was said of calls after they were made, in order; of two of one call the last
            counts.
        signed_off: Who signed the record off and when, in order.
    """

    rules: Rules
    seq: int = 0
    session: str | None = None
    sheet: SpecSheet | None = None
    card: JobCard | None = None
    call_sign: str = "bench"
    ounce: Literal["us", "imperial"] = "us"
    air_temperature: Decimal | None = None
    earlier: tuple[ev.EarlierReading, ...] = ()
    serviced_before: tuple[ev.EarlierService, ...] = ()
    machine_name: str | None = None
    serial_given: str | None = None
    known: Fact[ev.MachineKnown] | None = None

    readings: Facts[Fact[ev.ReadingRecorded]] = field(default_factory=lambda: Facts(_measure))
    fluids: Facts[Fact[ev.FluidMoved]] = field(default_factory=lambda: Facts(_fluid))
    levels: Facts[Fact[ev.LevelRead]] = field(default_factory=lambda: Facts(_fluid))
    findings: Facts[Fact[ev.FindingRecorded]] = field(default_factory=lambda: Facts(_part))
    work: Facts[Fact[ev.WorkRecorded]] = field(default_factory=lambda: Facts(_part))
    parts_needed: Facts[Fact[ev.PartNeeded]] = field(default_factory=Facts)
    parts_used: Facts[Fact[ev.PartUsed]] = field(default_factory=Facts)
    follow_ups: Facts[Fact[ev.FollowUpRecorded]] = field(default_factory=Facts)
    notes: Facts[Fact[ev.NoteKept]] = field(default_factory=Facts)
    serials: Facts[Fact[ev.SerialRecorded]] = field(default_factory=Facts)
    photos: Ledger[Fact[ev.PhotoAdded]] = field(default_factory=Ledger)
    customer: str = ""
    work_order: str = ""
    superseded: Numbered[Literal["corrected", "disregarded"]] = field(default_factory=Numbered)
    corrections: Numbered[int] = field(default_factory=Numbered)
    places: Numbered[int] = field(default_factory=Numbered)
    of_parts: Mixed = field(default_factory=Mixed)
    of_fluids: Mixed = field(default_factory=Mixed)

    tags: tuple[Tag, ...] = ()
    tag_history: Ledger[Fact[Any]] = field(default_factory=Ledger)
    cleared: Mapping[str, int] = field(default_factory=dict)
    timers: Mapping[str, Timer] = field(default_factory=dict)
    last_cancelled: Timer | None = None

    step: str | None = None
    step_by: ev.StepBy = "opening"
    step_entered: int = 0
    steps: Mapping[str, StepMark] = field(default_factory=dict)

    question: Question | None = None
    last_question: Question | None = None
    standby: bool = False
    parked: bool = False
    closed: bool = False
    go_on_with: str | None = None

    engine_running: bool = False
    engine_ran: datetime | None = None
    engine_started: int = 0
    engine_since: datetime | None = None
    engine_ran_for: timedelta | None = None
    start_affirmed: int | None = None

    undo: Places[Undoable] = field(default_factory=Places)
    undo_tags: Mapping[str, tuple[Undoable, ...]] = field(default_factory=dict)
    last_call: int | None = None
    set_aside: Fact[Any] | None = None
    cautions: Mapping[str, int] = field(default_factory=dict)
    last_said: tuple[str, ...] = ()
    cut: Fact[ev.Said] | None = None
    last_source: str | None = None
    last_heard: Fact[ev.Heard] | None = None
    troubles: Ledger[str] = field(default_factory=Ledger)
    reviews: Ledger[Review] = field(default_factory=Ledger)
    signed_off: tuple[Fact[ev.SignedOff], ...] = ()

    @classmethod
    def start(cls, rules: Rules) -> State:
        """The state before the first record, decided by these tables."""
        return cls(rules)

    def effective(self, facts: Sequence[Fact[Kept]]) -> Sequence[Fact[Kept]]:
        """Return those facts that count: neither corrected nor disregarded."""
        if isinstance(facts, Facts):
            return facts.counting
        if not self.superseded:
            return facts
        return tuple(fact for fact in facts if fact.seq not in self.superseded)

    def fact(self, seq: int) -> Fact[Any] | None:
        """Return the fact that a record is, or None; superseded ones too."""
        place = self.place(seq)
        for name in _FACTS.values():
            facts: Facts[Fact[Any]] = getattr(self, name)
            found = facts.at(place, seq)
            if found is not None:
                return found
        return None

    @property
    def facts(self) -> tuple[Fact[Any], ...]:
        """Everything that a correction may stand in place of, superseded ones too, kind by kind."""
        return tuple(fact for name in _FACTS.values() for fact in getattr(self, name))

    def place(self, seq: int) -> int:
        """Return the number of the first record in whose place this one stands; its own where it
        corrects nothing."""
        return self.places.get(seq, seq)

    def after_sign_off(self, seq: int) -> bool:
        """Return whether a record came after the record was signed off."""
        return bool(self.signed_off) and self.signed_off[0].seq < seq

    @property
    def changed_since_sign_off(self) -> int:
        """How many reviews changed something since the record was signed off last; a mark changes
        nothing."""
        since = self.signed_off[-1].seq if self.signed_off else self.seq
        return sum(
            each.seq > since and each.event.judgement not in ("right", "wrong")
            for each in self.reviews
        )

    @property
    def serial(self) -> str | None:
        """The machine's serial number as it was called last, else as it was given; None where it
        was neither."""
        called = self.effective(self.serials)
        return called[-1].event.serial if called else self.serial_given

    @property
    def unsaid(self) -> tuple[ev.Unsaid, ...]:
        """The pieces of the last answer that are still to be said, in order."""
        return () if self.cut is None else self.cut.event.rest

    def tag(self, text: str) -> Tag | None:
        """Return the tag with this text if it hangs."""
        return next((tag for tag in self.tags if tag.tag == text), None)


def evolve(state: State, record: Record) -> State:
    """The state after one more record.

    Raises:
        CompanionError: If the card or sheet kept in the log cannot be read by this version.
    """
    change = _CHANGES.get(type(record.event))
    if record.event.reviewed is None:
        changed = state if change is None else change(state, record.event, record)
        if changed is state:
            return replace(state, seq=record.seq)
        # It was made just now, and nobody else has it yet: to make it twice would cost as much
        # again.
        object.__setattr__(changed, "seq", record.seq)
        return changed
    # At the bench a review is no call: its question is not the one that is open there, and neither
    # "correction" nor "disregard" means what it brought.
    kept: dict[str, Any] = {
        "question": state.question,
        "last_question": state.last_question,
        "last_call": state.last_call,
        "set_aside": state.set_aside,
    }
    changed = state if change is None else change(state, record.event, record)
    brought = changed.undo.at(record.seq, record.seq)
    return replace(changed, seq=record.seq, **kept, **_not_undone(changed, brought))


def having_called(state: State, called: Mapping[str, Iterable[Fact[Any]]]) -> State:
    """Return a state of nothing that was called, with facts that count.

    Args:
        state: So far.
        called: By where a state keeps them.
    """
    for name, facts in called.items():
        if name == "tag_history":
            state = replace(state, tag_history=Ledger(facts))
            continue
        for fact in facts:
            state = _with_facts(state, fact, _counting(fact), True)
    return state


def fold(records: Iterable[Record], rules: Rules) -> State:
    """The state after all these records, from nothing, decided by these tables."""
    state: State = _Draft(rules)
    with uncollected():
        for record in records:
            state = evolve(state, record)
    return State(*all_of(state))


class _Draft(State):
    """A state while it is folded: nobody else has it, so that it is changed in place."""

    __slots__ = ()


def replace(value: Value, **changes: Any) -> Value:
    """Return the same value with some fields changed; see ``replacing.replace``."""
    if type(value) is not _Draft:
        return replaced(value, **changes)
    for name, changed in changes.items():
        object.__setattr__(value, name, changed)
    return value


def in_order_of_time(state: State, facts: Iterable[Fact[Any]]) -> list[Fact[Any]]:
    """Put facts of this session among those that the other sessions of the machine have.

    Facts of one session keep their order, whatever a clock was set to in between.
    """
    own = sorted(facts, key=lambda fact: fact.place)
    known = state.known
    if known is None:
        return own
    others = [
        Fact(known.seq, each.at, each.event, known.seq, each.session) for each in known.event.facts
    ]
    if not others:
        return own
    latest = own[0].at if own else others[0].at
    timed: list[tuple[datetime, Fact[Any]]] = [(fact.at, fact) for fact in others]
    for fact in own:
        latest = max(latest, fact.at)
        timed.append((latest, fact))
    return [fact for _, fact in sorted(timed, key=lambda entry: entry[0])]


def fold_in_order_of_time(
    state: State,
    facts: Ledger[Fact[Any]],
    name: str,
    begin: Folded,
    step: Callable[[Folded, Fact[Any]], Folded],
    *,
    holding: tuple[Any, ...] = (),
) -> Folded:
    """Go through facts of this session among those that the other sessions of the machine have, in
    the order of ``in_order_of_time``; what was gone through before is not gone through again.

    Args:
        state: The job.
        facts: Of this session, by place.
        name: Of the fold.
        begin: What it is before the first.
        step: Gives what it is after one more; must change nothing.
        holding: What else it depends on, besides what is known of the other sessions.
    """
    known = state.known
    if known is None:
        return facts.fold(name, begin, step, holding=(None, *holding))
    others = sorted(
        (
            Fact(known.seq, each.at, each.event, known.seq, each.session)
            for each in known.event.facts
        ),
        key=lambda fact: fact.at,
    )

    def further(
        so_far: tuple[Folded, int, datetime | None], fact: Fact[Any]
    ) -> tuple[Folded, int, datetime | None]:
        value, taken, latest = so_far
        latest = fact.at if latest is None else max(latest, fact.at)
        while taken < len(others) and others[taken].at <= latest:
            value = step(value, others[taken])
            taken += 1
        return step(value, fact), taken, latest

    start: tuple[Folded, int, datetime | None] = (begin, 0, None)
    value, taken, _ = facts.fold(name, start, further, holding=(known.event, *holding))
    for fact in others[taken:]:
        value = step(value, fact)
    return value


# --- the session itself -------------------------------------------------------------------------


def _session_opened(state: State, event: ev.SessionOpened, record: Record) -> State:
    try:
        sheet = None if event.machine is None else SpecSheet.model_validate(event.machine)
        card = None if event.card is None else JobCard.model_validate(event.card)
        unknown = next(_unknown_units((event.machine, event.card)), None)
    except ValidationError as error:
        where = ".".join(str(part) for part in error.errors(include_input=False)[0]["loc"])
        raise CompanionError(
            f"The job card or spec sheet kept in this log cannot be read at '{where[:80]}'; "
            "open the log with the version of Bench Companion that wrote it."
        ) from error
    if unknown is not None:
        raise CompanionError(
            f"The job card or spec sheet kept in this log has a unit that this version does not "
            f"know, {unknown[:40]!r}; open the log with the version of Bench Companion that wrote "
            "it."
        )
    return replace(
        state,
        session=event.session,
        sheet=sheet,
        card=card,
        call_sign=event.call_sign,
        ounce=event.ounce,
        air_temperature=event.air_temperature,
        earlier=event.earlier,
        serviced_before=event.serviced_before,
        machine_name=event.machine_name,
        serial_given=event.serial or (None if sheet is None else sheet.identification.serial),
    )


def _unknown_units(kept: Any) -> Iterator[str]:
    """Units of a card or sheet, as a log keeps them, that nothing can be reckoned in."""
    if isinstance(kept, dict):
        unit = kept.get("unit")
        if isinstance(unit, str) and unit not in UNITS:
            yield unit
    if isinstance(kept, dict | list | tuple):
        for inner in kept.values() if isinstance(kept, dict) else kept:
            yield from _unknown_units(inner)


def _machine_known(state: State, event: ev.MachineKnown, record: Record) -> State:
    state = replace(state, known=_fact(event, record))
    tags, cleared = _merged_tags(state)
    return replace(state, tags=tags, cleared=cleared)


def _session_resumed(state: State, event: ev.SessionResumed, record: Record) -> State:
    # A "yes" after a restart would answer a question that nobody remembers hearing.
    return replace(state, standby=False, parked=False, closed=False, question=None)


def _parked(state: State, event: ev.JobParked, record: Record) -> State:
    return replace(state, parked=True, question=None, last_call=record.seq)


def _closed(state: State, event: ev.JobClosed, record: Record) -> State:
    return replace(
        state,
        closed=True,
        go_on_with=event.instead,
        question=None,
        last_call=record.seq,
    )


def _standby(state: State, event: ev.Standby, record: Record) -> State:
    return replace(state, standby=True, question=None)


def _resumed(state: State, event: ev.Resumed, record: Record) -> State:
    return replace(state, standby=False, parked=False, closed=False)


def _trouble(state: State, event: ev.Trouble, record: Record) -> State:
    return replace(state, troubles=state.troubles.followed_by(event.what))


# --- the exchange -------------------------------------------------------------------------------


def _heard(state: State, event: ev.Heard, record: Record) -> State:
    return replace(state, last_heard=_fact(event, record))


def _said(state: State, event: ev.Said, record: Record) -> State:
    if not event.text:
        return state
    state = replace(state, cut=_fact(event, record) if event.rest else None)
    if event.goes_on:
        return state
    said = (event.text, *(piece.text for piece in event.rest))
    # What is said again keeps its source.
    kept = state.last_source if " ".join(said) == " ".join(state.last_said) else None
    return replace(state, last_said=said, last_source=event.source or kept)


def _asked(state: State, event: ev.Asked, record: Record) -> State:
    heard = state.last_heard
    if heard is None or heard.seq != event.heard:
        # Put again, or about a rival: it keeps what was heard before it was put first.
        before = state.question or state.last_question
        same = before is not None and before.event.heard == event.heard
        heard = before.heard if before is not None and same else None
    question = Question(record.seq, record.at, event, heard)
    return replace(state, question=question, last_question=question)


def _answered(state: State, event: ev.Answered, record: Record) -> State:
    return replace(state, question=None)


# --- facts --------------------------------------------------------------------------------------


def _fact(event: Kept, record: Record) -> Fact[Kept]:
    return Fact(record.seq, record.at, event, record.seq)


def _called(state: State, fact: Fact[Any], timer: Timer | None = None) -> State:
    """Note that a call recorded this, so that "correction" and "disregard" can refer to it."""
    entry = Undoable(fact, timer)
    state = replace(state, undo=state.undo.having(entry), last_call=fact.seq)
    if not isinstance(fact.event, ev.TagHung):
        return state
    tag = fact.event.tag
    hung = (*state.undo_tags.get(tag, ()), entry)
    return replace(state, undo_tags={**state.undo_tags, tag: hung})


def _not_undone(state: State, entry: Undoable | None) -> dict[str, Any]:
    """What can be disregarded but for this."""
    if entry is None:
        return {"undo": state.undo, "undo_tags": state.undo_tags}
    tags = state.undo_tags
    if isinstance(entry.fact.event, ev.TagHung):
        tag = entry.fact.event.tag
        left = tuple(other for other in tags.get(tag, ()) if other is not entry)
        tags = {**tags, tag: left}
    return {"undo": state.undo.lacking(entry), "undo_tags": tags}


_FACTS: Mapping[type[ev.Correctable], str] = {
    ev.ReadingRecorded: "readings",
    ev.FluidMoved: "fluids",
    ev.LevelRead: "levels",
    ev.FindingRecorded: "findings",
    ev.WorkRecorded: "work",
    ev.PartNeeded: "parts_needed",
    ev.PartUsed: "parts_used",
    ev.FollowUpRecorded: "follow_ups",
    ev.NoteKept: "notes",
    ev.SerialRecorded: "serials",
}
"""Where each kind of fact is kept."""

_MIXED: Mapping[str, str] = {
    "work": "of_parts",
    "findings": "of_parts",
    "fluids": "of_fluids",
    "levels": "of_fluids",
}
"""Where what counts of a kind is kept together with another."""


def _kept(state: State, event: ev.Correctable, record: Record) -> State:
    """Keep a fact among its kind, in its place; what it corrects no longer counts."""
    corrects = event.corrects
    # What points at no earlier record stands where it is: the log check tells of it.
    if corrects is not None and corrects < record.seq:
        superseded = state.superseded
        if corrects not in superseded:
            superseded = superseded.having(corrects, "corrected")
        state = replace(
            state,
            superseded=superseded,
            corrections=state.corrections.having(record.seq, corrects),
            places=state.places.having(record.seq, state.place(corrects)),
        )
        state = _counting_anew(state, corrects)
    place = state.place(record.seq)
    slim(event)
    fact = Fact(record.seq, _called_at(state, event, record), event, place)
    counts = record.seq not in state.superseded
    state = _with_facts(state, fact, lambda facts: facts.with_fact(fact, counts=counts), counts)
    by = getattr(event, "by", "voice")
    return _called(state, fact) if by == "voice" else state


def _with_facts(
    state: State,
    fact: Fact[Any],
    change: Callable[[Facts[Fact[Any]]], Facts[Fact[Any]]],
    counts: bool,
) -> State:
    """Change the facts of a kind, and what counts of two kinds together."""
    name = _FACTS[type(fact.event)]
    changed: dict[str, Any] = {name: change(getattr(state, name))}
    mixed = _MIXED.get(name)
    if mixed is not None:
        together: Mixed = getattr(state, mixed)
        changed[mixed] = together.having(fact) if counts else together.lacking(fact)
    return replace(state, **changed)


def _counting_anew(state: State, *seqs: int) -> State:
    """The same with these records among what counts where they count, and not where they do not."""
    for seq in seqs:
        fact = state.fact(seq)
        if fact is None:
            continue
        facts: Facts[Fact[Any]] = getattr(state, _FACTS[type(fact.event)])
        counted = facts.counting.at(fact.place, seq) is not None
        if seq not in state.superseded and not counted:
            state = _with_facts(state, fact, _counted(fact), True)
        elif seq in state.superseded and counted:
            state = _with_facts(state, fact, _discounted(fact), False)
    return state


def _counting(fact: Fact[Any]) -> Callable[[Facts[Fact[Any]]], Facts[Fact[Any]]]:
    return lambda facts: facts.with_fact(fact, counts=True)


def _counted(fact: Fact[Any]) -> Callable[[Facts[Fact[Any]]], Facts[Fact[Any]]]:
    return lambda facts: facts.counted(fact)


def _discounted(fact: Fact[Any]) -> Callable[[Facts[Fact[Any]]], Facts[Fact[Any]]]:
    return lambda facts: facts.discounted(fact)


def _called_at(state: State, event: ev.Correctable, record: Record) -> datetime:
    """When the call was made that a fact is of."""
    if event.reviewed is None:
        return record.at
    reviewed = next((each for each in reversed(state.reviews) if each.seq == event.reviewed), None)
    return record.at if reviewed is None else reviewed.event.called or record.at


def _photo(state: State, event: ev.PhotoAdded, record: Record) -> State:
    return replace(state, photos=state.photos.followed_by(_fact(event, record)))


def _work_order(state: State, event: ev.WorkOrderKept, record: Record) -> State:
    return replace(
        state,
        customer=state.customer if event.customer is None else event.customer,
        work_order=state.work_order if event.number is None else event.number,
    )


def _disregarded(state: State, event: ev.Disregarded, record: Record) -> State:
    entry = state.undo.at(event.record, event.record)
    superseded = state.superseded.having(event.record, "disregarded")
    changed = [event.record]
    if event.restores is not None:
        superseded = superseded.lacking(event.restores)
        changed.append(event.restores)
        corrected = state.corrections.get(event.restores)
        if corrected is not None and corrected not in superseded:
            superseded = superseded.having(corrected, "corrected")
            changed.append(corrected)
    state = replace(
        state,
        superseded=superseded,
        set_aside=None if entry is None else entry.fact,
        last_call=record.seq,
        **_not_undone(state, entry),
    )
    state = _counting_anew(state, *changed)
    return state if entry is None else _timer_disregarded(state, entry)


def _timer_disregarded(state: State, entry: Undoable) -> State:
    """Undo the starting or the stopping of a timer; other entries leave the timers alone."""
    timers = dict(state.timers)
    event = entry.fact.event
    if isinstance(event, ev.TimerStarted):
        timer = timers.get(event.name)
        if timer is None or timer.seq != entry.fact.seq:
            return state
        del timers[event.name]
        if timer.replaced is not None:
            timers[event.name] = timer.replaced
    elif isinstance(event, ev.TimerCancelled) and entry.timer is not None:
        timers.setdefault(event.name, entry.timer)
    return replace(state, timers=timers)


# --- timers -------------------------------------------------------------------------------------


def _timer_started(state: State, event: ev.TimerStarted, record: Record) -> State:
    replaced = state.last_cancelled
    if replaced is not None and (event.replaces is None or replaced.seq != event.replaces):
        replaced = None
    if replaced is not None:
        # One step back is enough, and keeps states of long jobs small.
        replaced = replace(replaced, replaced=None)
    timer = Timer(record.seq, event.name, event.seconds, event.due, replaced=replaced)
    state = replace(state, timers={**state.timers, event.name: timer})
    return _called(state, _fact(event, record)) if event.by == "voice" else state


def _timer_rang(state: State, event: ev.TimerRang, record: Record) -> State:
    question = state.question
    if question is not None:
        state = replace(state, question=replace(question, interrupted=True))
    timer = state.timers.get(event.name)
    if timer is None:
        return state
    rung = replace(timer, rings=event.count, rang=record.at)
    return replace(state, timers={**state.timers, event.name: rung})


def _elsewhere_rang(state: State, event: ev.ElsewhereRang, record: Record) -> State:
    question = state.question
    if question is None:
        return state
    return replace(state, question=replace(question, interrupted=True))


def _timer_acknowledged(state: State, event: ev.TimerAcknowledged, record: Record) -> State:
    return replace(state, timers=_without(state.timers, event.name))


def _timer_cancelled(state: State, event: ev.TimerCancelled, record: Record) -> State:
    timer = state.timers.get(event.name)
    state = replace(state, timers=_without(state.timers, event.name), last_cancelled=timer)
    return state if event.replaced else _called(state, _fact(event, record), timer)


def _without(timers: Mapping[str, Timer], name: str) -> Mapping[str, Timer]:
    return {other: timer for other, timer in timers.items() if other != name}


# --- tags, start gate, engine -------------------------------------------------------------------


def _tag_hung(state: State, event: ev.TagHung, record: Record) -> State:
    if state.tag(event.tag) is None:
        state = replace(state, tags=(*state.tags, _tag(event, record.seq, record.at)))
    state = replace(state, tag_history=state.tag_history.followed_by(_fact(event, record)))
    return _called(state, _fact(event, record)) if event.by == "voice" else state


def _tag(event: ev.TagHung, seq: int, at: datetime, session: str | None = None) -> Tag:
    return Tag(
        tag=event.tag,
        seq=seq,
        at=at,
        by=event.by,
        heard=event.heard,
        because=event.because,
        step=event.step,
        reason=event.reason,
        session=session,
    )


def _tag_cleared(state: State, event: ev.TagCleared, record: Record) -> State:
    # What hung it can no longer be disregarded: it was answered for when the tag came down.
    undo = state.undo
    for entry in state.undo_tags.get(event.tag, ()):
        undo = undo.lacking(entry)
    return replace(
        state,
        tags=tuple(tag for tag in state.tags if tag.tag != event.tag),
        tag_history=state.tag_history.followed_by(_fact(event, record)),
        cleared={**state.cleared, event.tag: record.seq},
        undo=undo,
        undo_tags={**state.undo_tags, event.tag: ()},
        last_call=record.seq,
    )


def _merged_tags(state: State) -> tuple[tuple[Tag, ...], Mapping[str, int]]:
    """The tags that hang and those that came down, of this session and the others in order of
    time."""
    hanging: dict[str, Tag] = {}
    cleared = dict(state.cleared)
    for fact in in_order_of_time(state, state.tag_history):
        if isinstance(fact.event, ev.TagHung):
            tag = _tag(fact.event, fact.seq, fact.at, fact.session)
            hanging.setdefault(tag.tag, tag)
        elif isinstance(fact.event, ev.TagCleared):
            hanging.pop(fact.event.tag, None)
            cleared[fact.event.tag] = fact.seq
    return tuple(hanging.values()), cleared


def _start_affirmed(state: State, event: ev.StartAffirmed, record: Record) -> State:
    return replace(state, start_affirmed=record.seq, last_call=record.seq)


def _engine_running(state: State, event: ev.EngineRunning, record: Record) -> State:
    still_warm = state.engine_ran is not None and record.at - state.engine_ran <= STILL_WARM
    ran_for = state.engine_ran_for if still_warm else timedelta(0)
    if not state.engine_running:
        state = replace(state, engine_since=record.at, engine_ran_for=ran_for)
    return replace(
        state,
        engine_running=True,
        engine_ran=record.at,
        engine_started=record.seq,
        last_call=record.seq,
    )


def _engine_stopped(state: State, event: ev.EngineStopped, record: Record) -> State:
    # Called stopped means that it ran until now, whether or not the running was called.
    ran_for = None
    if state.engine_running and state.engine_since is not None and state.engine_ran_for is not None:
        ran_for = state.engine_ran_for + max(timedelta(0), record.at - state.engine_since)
    return replace(
        state,
        engine_running=False,
        engine_ran=record.at,
        engine_since=None,
        engine_ran_for=ran_for,
        last_call=record.seq,
    )


# --- steps and cautions -------------------------------------------------------------------------


def _step_entered(state: State, event: ev.StepEntered, record: Record) -> State:
    mark = state.steps.get(event.step, StepMark())
    if mark.entered is None:
        mark = replace(mark, entered=record.seq)
    return replace(
        state,
        step=event.step,
        step_by=event.by,
        step_entered=record.seq,
        steps={**state.steps, event.step: mark},
        last_call=record.seq,
    )


def _step_done(state: State, event: ev.StepDone, record: Record) -> State:
    mark = state.steps.get(event.step, StepMark())
    done = replace(mark, done=record.seq, skipped=None, reason=None)
    state = _ran_in_step(state, event.step, mark, record)
    return replace(state, steps={**state.steps, event.step: done}, last_call=record.seq)


def _ran_in_step(state: State, name: str, mark: StepMark, record: Record) -> State:
    """An engine that a step ran is hot, though nobody called it running."""
    step = (
        next((each for each in state.card.step if each.name == name), None) if state.card else None
    )
    if step is None or not runs_engine(step) or state.engine_running:
        return state
    if mark.entered is not None and state.engine_started > mark.entered:
        return state
    return replace(
        state,
        engine_ran=record.at,
        engine_started=record.seq,
        engine_since=None,
        engine_ran_for=runs_for(step),
    )


def _step_skipped(state: State, event: ev.StepSkipped, record: Record) -> State:
    mark = state.steps.get(event.step, StepMark())
    skipped = replace(mark, skipped=record.seq, reason=event.reason)
    return replace(state, steps={**state.steps, event.step: skipped}, last_call=record.seq)


def _step_reopened(state: State, event: ev.StepReopened, record: Record) -> State:
    mark = state.steps.get(event.step, StepMark())
    reopened = replace(mark, skipped=None, reason=None)
    return replace(state, steps={**state.steps, event.step: reopened}, last_call=record.seq)


def _step_answered(state: State, event: ev.StepAnswered, record: Record) -> State:
    mark = state.steps.get(event.step, StepMark())
    answered = replace(mark, answer=event.answer)
    return replace(state, steps={**state.steps, event.step: answered}, last_call=record.seq)


def _step_ruled(state: State, event: ev.StepRuled, record: Record) -> State:
    mark = state.steps.get(event.step, StepMark())
    ruled = replace(mark, applies=event.applies)
    return replace(state, steps={**state.steps, event.step: ruled}, last_call=record.seq)


# --- after the job ------------------------------------------------------------------------------


def _reviewed(state: State, event: ev.Reviewed, record: Record) -> State:
    review = Review(record.seq, record.at, event, bool(state.signed_off))
    return replace(state, reviews=state.reviews.followed_by(review))


def _signed_off(state: State, event: ev.SignedOff, record: Record) -> State:
    return replace(state, signed_off=(*state.signed_off, _fact(event, record)))


def _caution(state: State, event: ev.CautionSpoken, record: Record) -> State:
    return replace(state, cautions={**state.cautions, event.caution: record.seq})


_CHANGES: Mapping[type[ev.Event], Callable[[State, Any, Record], State]] = {
    ev.SessionOpened: _session_opened,
    ev.SessionResumed: _session_resumed,
    ev.JobParked: _parked,
    ev.JobClosed: _closed,
    ev.Standby: _standby,
    ev.Resumed: _resumed,
    ev.Trouble: _trouble,
    ev.Heard: _heard,
    ev.Said: _said,
    ev.Asked: _asked,
    ev.Answered: _answered,
    **dict.fromkeys(_FACTS, _kept),
    ev.MachineKnown: _machine_known,
    ev.PhotoAdded: _photo,
    ev.WorkOrderKept: _work_order,
    ev.Disregarded: _disregarded,
    ev.TimerStarted: _timer_started,
    ev.TimerRang: _timer_rang,
    ev.ElsewhereRang: _elsewhere_rang,
    ev.TimerAcknowledged: _timer_acknowledged,
    ev.TimerCancelled: _timer_cancelled,
    ev.TagHung: _tag_hung,
    ev.TagCleared: _tag_cleared,
    ev.StartAffirmed: _start_affirmed,
    ev.EngineRunning: _engine_running,
    ev.EngineStopped: _engine_stopped,
    ev.StepEntered: _step_entered,
    ev.StepDone: _step_done,
    ev.StepSkipped: _step_skipped,
    ev.StepReopened: _step_reopened,
    ev.StepAnswered: _step_answered,
    ev.StepRuled: _step_ruled,
    ev.CautionSpoken: _caution,
    ev.Reviewed: _reviewed,
    ev.SignedOff: _signed_off,
}
"""What each kind of event changes; ``StartChecked`` and ``ElsewhereAcknowledged`` change nothing,
they are evidence only."""
