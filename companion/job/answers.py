"""Answers to questions that change nothing: small values that ``speak`` puts into words."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Literal

from companion.job.events import EarlierReading, ToComeBackTo, Window
from companion.job.fill import Air, Fill
from companion.job.read_before import Past
from companion.job.reason import Reason
from companion.job.sheet import SpecGrade


@dataclass(frozen=True, slots=True)
class TimeLeft:
    """Timers still running: name and whole seconds left, soonest first; negative when overdue."""

    timers: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class TagsHanging:
    """The tags that hang, the oldest first, each with why."""

    tags: tuple[tuple[str, tuple[Reason, ...]], ...]


@dataclass(frozen=True, slots=True)
class TagStays:
    """A tag that was to come down stays, and what is against it: a warning."""

    tag: str
    against: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class StandingOpen:
    """What holds the start by a part.

    ``still`` says that one of them was just called back and these are left.
    """

    reasons: tuple[Reason, ...]
    still: bool = False


@dataclass(frozen=True, slots=True)
class EngineLeftRunning:
    """The engine was called running and not called stopped: a warning.

    ``now`` says that it was called running just before what hangs a tag; otherwise it was left so
    when the job was put aside, with these tags.
    """

    tags: tuple[str, ...] = ()
    now: bool = False


@dataclass(frozen=True, slots=True)
class FromBefore:
    """What is worth knowing of the machine's other sessions when a job of it is opened.

    Attributes:
        open: Follow-ups and parts needed.
        out: Measures that were out of their window when they were read last.
    """

    open: tuple[ToComeBackTo, ...] = ()
    out: tuple[EarlierReading, ...] = ()


@dataclass(frozen=True, slots=True)
class DrainedAgain:
    """A fluid was drained that had been drained already, with nothing added between.

    Attributes:
        fluid: Which.
        at: When it was drained before.
        days: How many days ago that was; 0 in this job.
        elsewhere: Whether another job of the machine did it.
    """

    fluid: str
    at: datetime
    days: int = 0
    elsewhere: bool = False


@dataclass(frozen=True, slots=True)
class StepSpoken:
    """A step to say: its words, its place (1-based) and the number of steps.

    ``cautions`` holds those to say again ("say step"). Cautions due for the first time come as
    ``CautionSpoken`` events instead, so that each is spoken once.
    """

    say: str
    cautions: tuple[str, ...]
    place: int
    of: int


@dataclass(frozen=True, slots=True)
class StepsLeft:
    """What is left of the card: how many steps, and the first few in words, with why."""

    count: int
    first: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PassedOver:
    """Names of steps that are passed over, because their condition is known not to hold."""

    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SpecSaid:
    """The spec of a measure; ``window`` is None when the sheet gives no figure.

    ``condition`` says how the machine or the thread must be for it; empty where the sheet says
    nothing of it. ``last`` is what the machine read last where the sheet gives no figure: it is not
    from the maker.
    """

    measure: str
    window: Window | None
    condition: str = ""
    last: Past | None = None


@dataclass(frozen=True, slots=True)
class ReadBackReading:
    """The last reading of a measure; ``before`` is what it was in the sessions before this one."""

    measure: str
    value: Decimal
    unit: str
    verdict: Literal["in", "low", "high", "unknown"]
    before: Past | None = None


@dataclass(frozen=True, slots=True)
class NotReadYet:
    """A measure that was not called in this job, and what it was in the sessions before."""

    measure: str
    before: Past


@dataclass(frozen=True, slots=True)
class ReadBackFluid:
    """Totals of a fluid in the unit last used.

    ``to_capacity`` is how much more the sheet's capacity takes, where fluid was drained before;
    negative when more was added than that, None where it cannot be known. ``percent`` of the
    capacity is in, where that is known.
    """

    fluid: str
    drained: Decimal
    added: Decimal
    unit: str
    to_capacity: Decimal | None
    level: Literal["full", "low", "over"] | None
    percent: int | None = None


@dataclass(frozen=True, slots=True)
class FillSaid:
    """How far a fluid is filled, in answer to "how much more" or before the first filling.

    Attributes:
        fluid: Its name.
        fill: How far it is filled; None where that cannot be known.
        capacity: What the sheet says it takes and the unit to say it in; None where it says
            nothing.
        sheet: The same as it stands on the sheet, where its ounces are not the shop's.
        first: How much to pour in first, where nothing is in yet.
        check: What the last of it is filled by: "dipstick", "level plug".
        out: How much came out, in the unit of ``out_unit``, where the sheet has no capacity.
        out_unit: Unit of ``out``.
        grade: What to pour in, where the first filling is awaited; a short text.
    """

    fluid: str
    fill: Fill | None
    capacity: tuple[Decimal, str] | None
    sheet: tuple[Decimal, str] | None
    first: Decimal | None
    check: str
    out: Decimal | None = None
    out_unit: str = "ounce"
    grade: str | None = None


@dataclass(frozen=True, slots=True)
class GradeSaid:
    """Which grade of a fluid the sheet wants.

    Attributes:
        fluid: Its name.
        grade: The one for ``air``, or the only one; None where the sheet has none.
        air: The temperature that decided; None where none is known or none is needed.
        ranges: All ranges, the coldest first, where no temperature decided.
    """

    fluid: str
    grade: str | None
    air: Air | None = None
    ranges: tuple[SpecGrade, ...] = ()


@dataclass(frozen=True, slots=True)
class ReadBackList:
    """A list by name: ``parts``, ``findings``, ``steps left`` …; each line ready to be spoken."""

    name: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class HandbookSaid:
    """An answer from the handbook, with its source as a person would name it."""

    text: str
    source: str


@dataclass(frozen=True, slots=True)
class SayAgain:
    """Repeat the last thing said, word for word, in its pieces."""

    pieces: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Refused:
    """Something asked for is not done, and why: a warning, spoken as it stands."""

    text: str


@dataclass(frozen=True, slots=True)
class Ticked:
    """The call ticked a point or an expected reading off the current step; what is left of it."""

    left: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CanSay:
    """What fits now.

    Attributes:
        now: What it depends on: the open question, the current step, a job put aside, or nothing.
        left: At a step: the first points and readings that are left.
        more: Whether more than those are left.
    """

    now: Literal["question", "step", "parked", "anything"]
    left: tuple[str, ...] = ()
    more: bool = False


@dataclass(frozen=True, slots=True)
class Nothing:
    """Nothing to act on: "no timer runs", "nothing to correct"; spoken as it stands."""

    text: str


Answer = (
    TimeLeft
    | TagsHanging
    | TagStays
    | StandingOpen
    | EngineLeftRunning
    | FromBefore
    | DrainedAgain
    | StepSpoken
    | StepsLeft
    | PassedOver
    | SpecSaid
    | ReadBackReading
    | NotReadYet
    | ReadBackFluid
    | FillSaid
    | GradeSaid
    | ReadBackList
    | HandbookSaid
    | SayAgain
    | Refused
    | Ticked
    | CanSay
    | Nothing
)
"""Any answer."""
