"""What the page says of a job, section by section, taken from its log."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any, Literal

from companion.job import events as ev
from companion.job.lines import line
from companion.job.quantities import remark_words
from companion.job.record import Record
from companion.job.state import State
from companion.job.state_values import Fact
from companion.job.steps import counted
from companion.job.steps import stage as stage_of_step
from companion.report.figures import (
    figure,
    gauge,
    is_converted,
    verdict_text,
    window_text,
)
from companion.report.fluid_rows import in_order
from companion.report.rows import (
    LineRow,
    LookedOver,
    NoteRow,
    Origin,
    ReadingRow,
    ShoppingRow,
    StepRow,
    TagRow,
    TimerRow,
)
from companion.speak.reason_words import reasons_words


def origins(records: Iterable[Record], state: State) -> dict[int, Origin]:
    """Return, by record number, where each record stands."""
    records = tuple(records)
    heard = {record.seq for record in records if type(record.event) is ev.Heard}
    evidences = {
        # A reference to a record that does not exist is no evidence; the log check reports it.
        record.seq: record.event.heard if record.event.heard in heard else record.seq
        for record in records
    }
    reviews = {each.seq: each for each in looked_over(records, state)}
    called = {fact.seq: fact.at for fact in state.facts}
    by: dict[int, int] = {}
    gone: dict[int, LookedOver | None] = {}
    for record in records:
        event = record.event
        target = event.record if type(event) is ev.Disregarded else ev.corrected_by(event)
        if target is not None:
            # A correction made after the job is shown in the turn of its call.
            by[target] = evidences[record.seq] if event.reviewed is None else record.seq
            gone[target] = reviews.get(event.reviewed or 0)
    # Of a long day hardly a record is superseded or brought by a review.
    superseded = dict(state.superseded)
    return {
        record.seq: Origin(
            record.seq,
            evidences[record.seq],
            called.get(record.seq, record.at),
            superseded[record.seq],
            by.get(record.seq),
            gone.get(record.seq),
            reviews.get(record.event.reviewed or 0),
        )
        if record.seq in superseded
        else Origin(
            record.seq,
            evidences[record.seq],
            called.get(record.seq, record.at),
            instead=reviews.get(record.event.reviewed) if record.event.reviewed else None,
        )
        for record in records
    }


def looked_over(records: tuple[Record, ...], state: State) -> tuple[LookedOver, ...]:
    """Return what was said of calls after the job, in order."""
    heard = {record.seq: record.event for record in records if type(record.event) is ev.Heard}
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
        for fact in in_order(state.readings)
    )


def tags(records: Iterable[Record], state: State, at: dict[int, Origin]) -> tuple[TagRow, ...]:
    """Return every tag in the order in which it was hung; one that hangs twice has two rows.

    Args:
        records: All of the log, in order.
        state: After them.
        at: By record number, where each comes from.
    """
    rows: list[TagRow] = []
    hanging = {tag.tag for tag in state.tags}
    for origin, event, session in _hung_and_cleared(records, at):
        open_rows = [
            place for place, row in enumerate(rows) if row.tag == event.tag and row.cleared is None
        ]
        if isinstance(event, ev.TagHung):
            # A tag that is hung again while it hangs is the same tag.
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
        if type(record.event) is ev.TagHung or type(record.event) is ev.TagCleared:
            yield at[record.seq], record.event, None
        elif type(record.event) is ev.MachineKnown:
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


_OF_TIMERS = frozenset(
    {ev.TimerStarted, ev.TimerRang, ev.TimerAcknowledged, ev.TimerCancelled},
)


def timers(records: Iterable[Record], state: State, at: dict[int, Origin]) -> tuple[TimerRow, ...]:
    """Return every timer and how it ended.

    Args:
        records: All of the log, in order.
        state: After them.
        at: By record number, where each comes from.
    """
    rows: dict[int, TimerRow] = {}
    running: dict[str, int] = {}
    rung: dict[int, int] = {}
    for record in records:
        if type(record.event) not in _OF_TIMERS:
            continue
        event, origin = record.event, at[record.seq]
        if isinstance(event, ev.TimerStarted):
            # A step's own timer may replace one that still ran.
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
        elif stage_of_step(state, step) == "not applying":
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
    is not shown beside itself.

    Args:
        state: The job.
        at: By record number, where each comes from.
        about: Which of the two.
    """
    counting = {fact.place: fact.event.text for fact in state.effective(state.notes)}
    return tuple(
        NoteRow(at[fact.seq], fact.event.text or "", fact.event.draft, fact.event.clip)
        for fact in state.notes
        if fact.event.about == about
        and not (fact.seq in state.superseded and counting.get(fact.place) == fact.event.text)
    )


def duration_text(seconds: float) -> str:
    """Return a length of time: "2 h", "1 h 20 min", "45 s"."""
    # Seconds do not matter in an hour.
    whole = round(seconds) if seconds < 3600 else round(seconds / 60) * 60
    hours, rest = divmod(whole, 3600)
    minutes, seconds_left = divmod(rest, 60)
    parts = [(hours // 24, "d"), (hours % 24, "h"), (minutes, "min"), (seconds_left, "s")]
    return " ".join(f"{number} {unit}" for number, unit in parts if number) or "0 s"


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
