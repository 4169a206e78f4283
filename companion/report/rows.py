"""The rows of a page of a job: plain values, as its tables show them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from companion.job import events as ev
from companion.report.figures import (
    Figure,
    Gauge,
)


@dataclass(frozen=True, slots=True)
class LookedOver:
    """What somebody said of a call after the job.

    Attributes:
        seq: Number of the record.
        evidence: Number of the record of what was heard, or of the fact that it is about.
        at: When it was said.
        by: Who.
        why: In a few words, or empty.
        judgement: What was found.
        said: What was really said, or empty.
        heard: What had been understood, or empty.
        after_sign_off: Whether the record had been signed off before.
    """

    seq: int
    evidence: int
    at: datetime
    by: str
    why: str
    judgement: ev.Judgement
    said: str
    heard: str
    after_sign_off: bool


@dataclass(frozen=True, slots=True)
class Origin:
    """Where in the log a line of the page comes from, and whether it still counts.

    Attributes:
        seq: Number of the record.
        evidence: Number of the record of what was heard, or ``seq`` where nothing was.
        at: When it was called, or else recorded.
        superseded: Why it no longer counts, or None.
        by: Evidence of the record that says so.
        gone: Who set it aside after the job, or None.
        instead: Who put it here after the job, or None.
    """

    seq: int
    evidence: int
    at: datetime
    superseded: Literal["corrected", "disregarded"] | None = None
    by: int | None = None
    gone: LookedOver | None = None
    instead: LookedOver | None = None


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """One reading."""

    origin: Origin
    measure: str
    figure: Figure
    verdict: Literal["in", "low", "high", "unknown"]
    verdict_text: str
    wanted: str
    wanted_source: str
    wanted_on_sheet: str
    gauge: Gauge | None
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class MoveRow:
    """One call of fluid in or out, or of a level."""

    origin: Origin
    what: str
    figure: Figure | None


@dataclass(frozen=True, slots=True)
class Bar:
    """A volume drawn as a bar; ``share`` is 0 to 100 of the longest."""

    label: str
    figure: Figure
    share: float


@dataclass(frozen=True, slots=True)
class FluidTotals:
    """What the calls about one fluid that count come to; ``percent`` is of the capacity."""

    bars: tuple[Bar, ...]
    net: Figure
    balance: Literal["even", "more in than out", "more out than in"]
    to_capacity: Figure | None
    percent: int | None
    fill: Literal["short", "even", "over"]
    level: str | None


@dataclass(frozen=True, slots=True)
class FluidSection:
    """One fluid; ``totals`` is None where a unit in the log is unknown to this version."""

    fluid: str
    grade: str | None
    totals: FluidTotals | None
    moves: tuple[MoveRow, ...]


@dataclass(frozen=True, slots=True)
class TagRow:
    """One tag, from hanging to clearing."""

    origin: Origin
    tag: str
    reason: str
    cleared: Origin | None
    hangs: bool


@dataclass(frozen=True, slots=True)
class TimerRow:
    """One timer and how it ended."""

    origin: Origin
    name: str
    length: str
    due: datetime
    end: str
    ended: Origin | None


@dataclass(frozen=True, slots=True)
class StepRow:
    """One step of the card; ``why`` it was skipped, and what it ``takes``."""

    number: int
    name: str
    say: str
    mark: Literal["done", "skipped", "not applying", "now", "left"]
    origin: Origin | None
    why: str | None = None
    takes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LineRow:
    """One line of a list: a finding, some work, a part, a follow-up."""

    origin: Origin
    text: str
    count: int = 1


@dataclass(frozen=True, slots=True)
class ShoppingRow:
    """A part to buy: how many in all, and the records that say so."""

    part: str
    count: int
    evidence: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class NoteRow:
    """One note."""

    origin: Origin
    text: str
    draft: bool
    clip: str | None
