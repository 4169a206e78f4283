"""What a job is, folded from its records.

Everything the session knows is here, and all of it comes from the log: a restart, a review and an
undo replay the same records. No fact is ever taken out; what was corrected or disregarded stays,
and is named in ``State.superseded``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any, Literal

from companion.job import events as ev
from companion.job.card import JobCard
from companion.job.ledger import Facts, Ledger, Places
from companion.job.numbered import Numbered
from companion.job.replacing import Value
from companion.job.replacing import replace as replaced
from companion.job.rules import Rules
from companion.job.sheet import SpecSheet
from companion.job.state_values import (
    Fact,
    Kept,
    Mixed,
    Question,
    Review,
    StepMark,
    Tag,
    Timer,
    Undoable,
    fluid_of,
    measure_of,
    part_of,
)


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
        undo_tags: Those of them that hung a tag, by tag.
        last_call: Number of the last record that a call made and a person would mean by "that".
        set_aside: What was disregarded last.
        cautions: By name, number of the record in which a caution was last spoken.
        last_said: The last answer, word for word, in the pieces in which it is said.
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

    readings: Facts[Fact[ev.ReadingRecorded]] = field(default_factory=lambda: Facts(measure_of))
    fluids: Facts[Fact[ev.FluidMoved]] = field(default_factory=lambda: Facts(fluid_of))
    levels: Facts[Fact[ev.LevelRead]] = field(default_factory=lambda: Facts(fluid_of))
    findings: Facts[Fact[ev.FindingRecorded]] = field(default_factory=lambda: Facts(part_of))
    work: Facts[Fact[ev.WorkRecorded]] = field(default_factory=lambda: Facts(part_of))
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
        for name in KEPT_IN.values():
            facts: Facts[Fact[Any]] = getattr(self, name)
            found = facts.at(place, seq)
            if found is not None:
                return found
        return None

    @property
    def facts(self) -> tuple[Fact[Any], ...]:
        """Everything that a correction may stand in place of, superseded ones too, kind by kind."""
        return tuple(fact for name in KEPT_IN.values() for fact in getattr(self, name))

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
    def kind_called(self) -> str | None:
        """What sort of machine it is, as it was called last with its serial number; or None."""
        called = [fact.event.machine for fact in self.effective(self.serials)]
        return next((machine for machine in reversed(called) if machine is not None), None)

    @property
    def machine(self) -> str | None:
        """What the very machine is called: by its own name, else by its sheet, else by its kind and
        serial number as they were called; None where nothing says which it is."""
        if self.machine_name is not None or self.sheet is not None:
            return self.machine_name or (self.sheet.name if self.sheet else None)
        kind = self.kind_called
        return None if kind is None else f"{kind} {self.serial}"

    @property
    def unsaid(self) -> tuple[ev.Unsaid, ...]:
        """The pieces of the last answer that are still to be said, in order."""
        return () if self.cut is None else self.cut.event.rest

    def tag(self, text: str) -> Tag | None:
        """Return the tag with this text if it hangs."""
        return next((tag for tag in self.tags if tag.tag == text), None)


class Unshared(State):
    """A state while it is folded: nobody else has it, so that it is changed in place."""

    __slots__ = ()


def replace(value: Value, **changes: Any) -> Value:
    """Return the same value with some fields changed; see ``replacing.replace``."""
    if type(value) is not Unshared:
        return replaced(value, **changes)
    for name, changed in changes.items():
        object.__setattr__(value, name, changed)
    return value


KEPT_IN: Mapping[type[ev.Correctable], str] = {
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
