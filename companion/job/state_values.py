"""The values of which a state is made."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Generic, Literal, TypeVar

from companion.job import events as ev
from companion.job.ledger import Places
from companion.job.reason import Reason

Kept = TypeVar("Kept", bound=ev.Event)


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


def measure_of(fact: Fact[ev.ReadingRecorded]) -> str:
    """Return what was measured."""
    return fact.event.measure


def fluid_of(fact: Fact[ev.FluidMoved] | Fact[ev.LevelRead]) -> str:
    """Return which fluid a fact is of."""
    return fact.event.fluid


def part_of(fact: Fact[ev.FindingRecorded] | Fact[ev.WorkRecorded]) -> str:
    """Return which part a fact is of."""
    return fact.event.part


class Mixed(Places[Fact[Any]]):
    """What counts of two kinds, by place; at one place those of ``_FIRST`` first."""

    __slots__ = ()

    def _key(self, entry: Fact[Any]) -> tuple[int, ...]:
        return entry.place, type(entry.event) not in _FIRST, entry.seq


_FIRST: tuple[type[ev.Event], ...] = (ev.WorkRecorded, ev.FluidMoved)
