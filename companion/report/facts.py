"""What the page says of a job, section by section, taken from its log."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any, Literal

from companion.handbook.convert import rounded
from companion.handbook.units import UnknownUnit, from_si, to_si, unit_named
from companion.job import events as ev
from companion.job.fill import fill_of
from companion.job.fluids import spec_of, standing, to_capacity
from companion.job.lines import line
from companion.job.record import Record
from companion.job.sheet import SpecFluid
from companion.job.state import Fact, State
from companion.job.steps import counted
from companion.job.steps import standing as standing_of_step
from companion.log.quantities import remark_words
from companion.report.figures import (
    Figure,
    Gauge,
    figure,
    gauge,
    is_converted,
    verdict_text,
    window_text,
)
from companion.report.sheet_page import range_text
from companion.speak.reason_words import reasons_words


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
        gone: Who let it no longer count after the job, or None.
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


def origins(records: Iterable[Record], state: State) -> dict[int, Origin]:
    """Return, by record number, where each record stands."""
    records = tuple(records)
    heard = {record.seq for record in records if isinstance(record.event, ev.Heard)}
    evidences = {
        # A pointer at nothing, which the log check tells of, is no evidence.
        record.seq: record.event.heard if record.event.heard in heard else record.seq
        for record in records
    }
    reviews = {each.seq: each for each in looked_over(records, state)}
    called = {fact.seq: fact.at for fact in state.facts}
    by: dict[int, int] = {}
    gone: dict[int, LookedOver | None] = {}
    for record in records:
        event = record.event
        target = event.record if isinstance(event, ev.Disregarded) else None
        target = event.corrects if isinstance(event, ev.Correctable) else target
        if target is not None:
            # What was put right after the job stands in the turn of the call that it is about.
            by[target] = evidences[record.seq] if event.reviewed is None else record.seq
            gone[target] = reviews.get(event.reviewed or 0)
    return {
        record.seq: Origin(
            seq=record.seq,
            evidence=evidences[record.seq],
            at=called.get(record.seq, record.at),
            superseded=state.superseded.get(record.seq),
            by=by.get(record.seq) if record.seq in state.superseded else None,
            gone=gone.get(record.seq) if record.seq in state.superseded else None,
            instead=reviews.get(record.event.reviewed or 0),
        )
        for record in records
    }


def looked_over(records: tuple[Record, ...], state: State) -> tuple[LookedOver, ...]:
    """Return what was said of calls after the job, in order."""
    heard = {record.seq: record.event for record in records if isinstance(record.event, ev.Heard)}
    causes = {record.seq: record.event.heard for record in records}
    rows = []
    for review in state.reviews:
        event = review.event
        cause = event.record if event.record in heard else causes.get(event.record)
        call = heard.get(cause or 0)
        rows.append(
            LookedOver(
                seq=review.seq,
                evidence=cause if cause is not None and call is not None else review.seq,
                at=review.at,
                by=event.by,
                why=event.why,
                judgement=event.judgement,
                said=event.said or "",
                heard=call.text if call is not None else "",
                after_sign_off=review.after_sign_off,
            )
        )
    return tuple(rows)


def identification(state: State) -> tuple[tuple[str, str], ...]:
    """Return what the sheet says which machine it is, a name and a value each."""
    if state.sheet is None:
        return (("Serial number", state.serial),) if state.serial else ()
    known = state.sheet.identification
    named = (
        ("Maker", known.maker),
        ("Model", known.model),
        ("Serial number", state.serial or known.serial),
        ("Year", None if known.year is None else str(known.year)),
        ("Engine", known.engine),
        ("Engine model", known.engine_model),
        ("Engine serial", known.engine_serial),
    )
    return tuple((name, value) for name, value in named if value)


def readings(state: State, at: dict[int, Origin]) -> tuple[ReadingRow, ...]:
    """Return every reading in the order in which it was taken, a correction after what it
    corrects."""
    return tuple(
        ReadingRow(
            origin=at[fact.seq],
            measure=fact.event.measure,
            figure=figure(fact.event.value, fact.event.unit, state.ounce),
            verdict=fact.event.verdict,
            verdict_text=verdict_text(fact.event, state.ounce),
            wanted=window_text(fact.event.window, state.ounce, fact.event.unit),
            wanted_on_sheet=window_text(fact.event.window, state.ounce)
            if is_converted(fact.event.window, fact.event.unit, state.ounce)
            else "",
            wanted_source=fact.event.window.source if fact.event.window else "",
            gauge=gauge(fact.event, state.ounce),
            remarks=tuple(remark_words(each, fact.event.unit) for each in fact.event.remarks),
        )
        for fact in _in_order(state.readings)
    )


def fluids(state: State, at: dict[int, Origin]) -> tuple[FluidSection, ...]:
    """Return every fluid that was moved or whose level was called, the first named first."""
    facts = _in_order((*state.fluids, *state.levels))
    names = dict.fromkeys(fact.event.fluid for fact in facts)
    return tuple(_fluid(state, at, name) for name in names)


def tags(records: Iterable[Record], state: State, at: dict[int, Origin]) -> tuple[TagRow, ...]:
    """Return every tag in the order in which it was hung; one that hangs twice has two rows."""
    rows: list[TagRow] = []
    hanging = {tag.tag for tag in state.tags}
    for origin, event, session in _hung_and_cleared(records, at):
        open_rows = [
            place for place, row in enumerate(rows) if row.tag == event.tag and row.cleared is None
        ]
        if isinstance(event, ev.TagHung):
            # Hung again while it hangs, it is the same tag.
            if not open_rows:
                before = "" if session is None else f", in {session}"
                reason = f"{_why_hung(event)}{before}"
                rows.append(TagRow(origin, event.tag, reason, None, event.tag in hanging))
            continue
        for place in open_rows:
            row = rows[place]
            rows[place] = TagRow(row.origin, row.tag, row.reason, origin, False)
    return tuple(rows)


def _hung_and_cleared(
    records: Iterable[Record], at: dict[int, Origin]
) -> Iterator[tuple[Origin, ev.TagHung | ev.TagCleared, str | None]]:
    """Every hanging and clearing of a tag, in this session and, where it counts here, in another
    of the machine."""
    for record in records:
        if isinstance(record.event, ev.TagHung | ev.TagCleared):
            yield at[record.seq], record.event, None
        elif isinstance(record.event, ev.MachineKnown):
            for fact in record.event.facts:
                if isinstance(fact.event, ev.TagHung | ev.TagCleared):
                    yield at[record.seq], fact.event, fact.session


def _why_hung(event: ev.TagHung) -> str:
    """Why a tag was hung, when it was."""
    if event.because:
        return reasons_words(event.because, dated=True)
    if event.by == "step" and event.step is not None:
        return f"step {event.step.replace('-', ' ')}"
    return event.reason or "called"


def timers(records: Iterable[Record], state: State, at: dict[int, Origin]) -> tuple[TimerRow, ...]:
    """Return every timer and how it ended."""
    rows: dict[int, TimerRow] = {}
    running: dict[str, int] = {}
    rung: dict[int, int] = {}
    for record in records:
        event, origin = record.event, at[record.seq]
        if isinstance(event, ev.TimerStarted):
            # A step's own timer may take the place of one that still ran.
            running[event.name] = record.seq
            due = event.due.astimezone(record.at.tzinfo)
            rows[record.seq] = TimerRow(
                origin, event.name, duration_text(event.seconds), due, "running", None
            )
        elif (
            isinstance(event, ev.TimerRang | ev.TimerAcknowledged | ev.TimerCancelled)
            and event.name in running
        ):
            seq = running[event.name]
            row = rows[seq]
            if isinstance(event, ev.TimerRang):
                rung.setdefault(seq, record.seq)
                times = f"rang {event.count} times" if event.count > 1 else "rang"
                end, ended = f"{times}, not acknowledged", at[rung[seq]]
            elif isinstance(event, ev.TimerAcknowledged):
                end, ended = "rang, acknowledged" if seq in rung else "acknowledged", origin
            else:
                end, ended = "started anew" if event.replaced else "cancelled", origin
            rows[seq] = TimerRow(row.origin, row.name, row.length, row.due, end, ended)
    alive = {timer.seq for timer in state.timers.values()}
    return tuple(
        TimerRow(row.origin, row.name, row.length, row.due, "running", None)
        if seq in alive and row.end in ("cancelled", "started anew")
        else row
        for seq, row in rows.items()
    )


def steps(state: State, at: dict[int, Origin]) -> tuple[StepRow, ...]:
    """Return every step of the card with its mark; none without a card."""
    if state.card is None:
        return ()
    rows = []
    for number, step in enumerate(state.card.step, start=1):
        mark = state.steps.get(step.name)
        kind: Literal["done", "skipped", "not applying", "now", "left"] = "left"
        seq, why = None, None
        if mark is not None and mark.done is not None:
            kind, seq = "done", mark.done
        elif mark is not None and mark.skipped is not None:
            kind, seq, why = "skipped", mark.skipped, mark.reason
        elif state.step == step.name and not state.closed:
            kind, seq = "now", mark.entered if mark is not None else None
        elif standing_of_step(state, step) == "not applying":
            kind = "not applying"
        takes = (*(counted(part.name, part.count) for part in step.parts), *step.consumables)
        origin = at[seq] if seq else None
        rows.append(StepRow(number, step.name, step.say, kind, origin, why, takes))
    return tuple(rows)


def findings(state: State, at: Mapping[int, Origin]) -> tuple[LineRow, ...]:
    """Return what was found wrong."""
    return lines_of(state.findings, at, line)


def work(state: State, at: Mapping[int, Origin]) -> tuple[LineRow, ...]:
    """Return what was done."""
    return lines_of(state.work, at, line)


def parts_used(state: State, at: Mapping[int, Origin]) -> tuple[LineRow, ...]:
    """Return the parts fitted."""
    return lines_of(state.parts_used, at, lambda event: event.part)


def parts_needed(state: State, at: Mapping[int, Origin]) -> tuple[LineRow, ...]:
    """Return the parts called as needed, one by one, superseded ones too."""
    return lines_of(state.parts_needed, at, lambda event: event.part)


def follow_ups(state: State, at: Mapping[int, Origin]) -> tuple[LineRow, ...]:
    """Return what is still not right."""
    return lines_of(state.follow_ups, at, lambda event: event.part)


def shopping(state: State, at: dict[int, Origin]) -> tuple[ShoppingRow, ...]:
    """Return what to buy, each part once."""
    rows: dict[str, ShoppingRow] = {}
    for fact in state.effective(state.parts_needed):
        part, known = fact.event.part, rows.get(fact.event.part)
        evidence = (at[fact.seq].evidence,)
        rows[part] = ShoppingRow(
            part,
            fact.event.count + (known.count if known else 0),
            (*(known.evidence if known else ()), *evidence),
        )
    return tuple(rows.values())


def notes(
    state: State, at: dict[int, Origin], about: Literal["note", "complaint"] = "note"
) -> tuple[NoteRow, ...]:
    """Return the notes, or what the customer complains of; a draft that was confirmed word for word
    is not shown beside itself."""
    counting = {fact.place: fact.event.text for fact in state.effective(state.notes)}
    return tuple(
        NoteRow(at[fact.seq], fact.event.text or "", fact.event.draft, fact.event.clip)
        for fact in state.notes
        if fact.event.about == about
        and not (fact.seq in state.superseded and counting.get(fact.place) == fact.event.text)
    )


def duration_text(seconds: float) -> str:
    """Return a length of time: "2 h", "1 h 20 min", "45 s"."""
    # Nobody wants the seconds of an hour.
    whole = round(seconds) if seconds < 3600 else round(seconds / 60) * 60
    hours, rest = divmod(whole, 3600)
    minutes, seconds_left = divmod(rest, 60)
    parts = [(hours // 24, "d"), (hours % 24, "h"), (minutes, "min"), (seconds_left, "s")]
    return " ".join(f"{number} {unit}" for number, unit in parts if number) or "0 s"


def _in_order(facts: Sequence[Fact[Any]]) -> list[Fact[Any]]:
    return sorted(facts, key=lambda fact: (fact.place, fact.seq))


def lines_of(
    facts: Sequence[Fact[Any]], at: Mapping[int, Origin], text: Callable[[Any], str]
) -> tuple[LineRow, ...]:
    """Return a line for each of some facts, superseded ones too.

    Args:
        facts: In the order of the page.
        at: Where in the log each record comes from, by its number.
        text: What the line says of an event.
    """
    return tuple(
        LineRow(at[fact.seq], text(fact.event), getattr(fact.event, "count", 1)) for fact in facts
    )


def _fluid(state: State, at: dict[int, Origin], name: str) -> FluidSection:
    spec = spec_of(state, name)
    return FluidSection(
        fluid=name,
        grade=_grade_text(spec),
        totals=_totals(state, name),
        moves=_moves(state, at, name),
    )


def _grade_text(spec: SpecFluid | None) -> str | None:
    """What the sheet wants filled: one grade, or each with its temperatures."""
    if spec is None or not spec.grades:
        return spec.grade if spec is not None else None
    return ", ".join(f"{each.grade} {range_text(each)}" for each in spec.grades)


def _totals(state: State, name: str) -> FluidTotals | None:
    """Sum a fluid up, in the unit that was called last."""
    moved = [fact.event for fact in _in_order(state.effective(state.fluids))]
    unit = next((event.unit for event in reversed(moved) if event.fluid == name), "ounce")
    spec = spec_of(state, name)
    try:
        now = standing(state, name)
        volumes = [("drained", now.drained), ("added", now.added)]
        if spec is not None and spec.capacity is not None and spec.unit is not None:
            volumes.append(("takes", to_si(spec.capacity, spec.unit, ounce=state.ounce)[0]))
        net = from_si(now.added - now.drained, unit, ounce=state.ounce)
        left = to_capacity(state, name, unit)
        filled = fill_of(state, name)
    except UnknownUnit:
        return None
    most = max(volume for _, volume in volumes)
    # Less than the finest step of a measuring cup is no difference.
    step = unit_named(unit).finest
    net -= net.remainder_near(step)
    if left is not None:
        left -= left.remainder_near(step)
    return FluidTotals(
        bars=tuple(
            Bar(label, _volume(state, volume, unit), _share(volume, most))
            for label, volume in volumes
        ),
        net=figure(rounded(abs(net), unit), unit, state.ounce),
        balance="even" if net == 0 else "more in than out" if net > 0 else "more out than in",
        to_capacity=None if left is None else figure(rounded(abs(left), unit), unit, state.ounce),
        percent=None if filled is None else filled.percent,
        fill="even" if not left else "over" if left < 0 else "short",
        level=now.level,
    )


def _share(volume: Decimal, most: Decimal) -> float:
    return float(round(volume / most * 100, 1)) if most > 0 and volume > 0 else 0.0


def _volume(state: State, cubic_meters: Decimal, unit: str) -> Figure:
    value = from_si(cubic_meters, unit, ounce=state.ounce)
    return figure(rounded(value, unit), unit, state.ounce)


def _moves(state: State, at: dict[int, Origin], name: str) -> tuple[MoveRow, ...]:
    facts = [fact for fact in _in_order((*state.fluids, *state.levels)) if fact.event.fluid == name]
    rows = []
    for fact in facts:
        event = fact.event
        if isinstance(event, ev.LevelRead):
            rows.append(MoveRow(at[fact.seq], f"level {event.level}", None))
        else:
            shown = figure(event.value, event.unit, state.ounce)
            rows.append(MoveRow(at[fact.seq], event.action, shown))
    return tuple(rows)
