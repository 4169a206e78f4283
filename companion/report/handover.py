"""The sheet for the owner: what was found, done, measured and replaced, what is next, what to
watch. The evidence behind each figure stays in the report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from companion.job import events as ev
from companion.job import fluids
from companion.job.due import ENGINE_HOURS, due, engine_hours_of_job
from companion.job.lines import how_many
from companion.job.record import worked_until
from companion.job.rules import shipped_rules
from companion.job.state import Fact, State, fold
from companion.log.reader import read_log
from companion.report.against import not_checked, reasons_by_tag, reasons_without_tag
from companion.report.figures import Figure, figure
from companion.report.plain_words import (
    due_in_plain_words,
    hours_text,
    last_done_in_plain_words,
    verdict_in_plain_words,
)
from companion.report.plate import plate_lines
from companion.report.printed import template, write_beside_log
from companion.report.volumes import grade_text, moved
from companion.report.watching import SEE_THE_MANUAL, fluids_called, found, last_readings, to_watch

HANDOVER_NAME = "handover.html"
"""File name of the sheet inside a session folder."""

MANY_ROWS = 44
"""From so many lines on, the print is smaller, to stay on one page; tried on A4 and Letter."""


@dataclass(frozen=True, slots=True)
class Measured:
    """One measure: as it was found, if that was another value, and as it was left."""

    measure: str
    found: str
    left: Figure
    verdict: str
    kind: str
    source: str


@dataclass(frozen=True, slots=True)
class Filled:
    """What was done with one fluid."""

    fluid: str
    what: str
    grade: str


@dataclass(frozen=True, slots=True)
class Next:
    """One item of the service intervals."""

    what: str
    when: str
    last: str
    note: str
    overdue: bool


def render_handover(folder: Path) -> str:
    """Return the owner's sheet of a session as one HTML page that needs nothing from elsewhere.

    Args:
        folder: The session folder; nothing in it is changed.

    Raises:
        CompanionError: As ``companion.log.reader.read_log``.
    """
    records = read_log(folder).records
    state = fold(records, shipped_rules())
    last = worked_until(records)
    hours = engine_hours_of_job(state)
    content: dict[str, Sequence[object]] = {
        "found": found(state),
        "done": _done(state),
        "measured": _measured(state),
        "replaced": _replaced(state),
        "filled": _filled(state),
        "next": _next(state, last),
        "needed": _counts(state.effective(state.parts_needed)),
        "watch": to_watch(state),
        "complaints": [
            fact for fact in state.effective(state.notes) if fact.event.about == "complaint"
        ],
    }
    return template("handover.html").render(
        state=state,
        session=folder.resolve().name,
        opened=records[0].at,
        last=last,
        status="closed" if state.closed else "parked" if state.parked else "open",
        identification=plate_lines(state),
        hours="" if hours is None else hours_text(hours),
        hanging=reasons_by_tag(state),
        against=reasons_without_tag(state),
        see_the_manual=SEE_THE_MANUAL,
        not_checked=not_checked(records),
        has_engine=_has_engine(state),
        mixes=_mixes(state),
        dense=sum(len(rows) for rows in content.values()) > MANY_ROWS,
        **content,
    )


def write_handover(folder: Path, page: Path | None = None) -> Path:
    """Write the owner's sheet; one that is there is replaced, never half written.

    Args:
        folder: The session folder.
        page: The file to write; ``handover.html`` in the session folder if None.

    Returns:
        The file written.

    Raises:
        CompanionError: If the log cannot be used or the page cannot be written.
    """
    return write_beside_log(
        folder, page or folder / HANDOVER_NAME, render_handover(folder), "sheet for the owner"
    )


def _next(state: State, at: datetime) -> list[Next]:
    return [
        Next(
            f"{item.service.item}: {item.service.work}",
            due_in_plain_words(item),
            last_done_in_plain_words(item),
            item.service.note or "",
            item.overdue,
        )
        for item in due(state, at)
    ]


def _done(state: State) -> list[tuple[str, list[str]]]:
    """Work by what was done, with how many of each, so that six grease points take one line."""
    by_action: dict[str, dict[str, list[ev.WorkRecorded]]] = {}
    for fact in state.effective(state.work):
        if fact.event.action != "replaced":
            parts = by_action.setdefault(fact.event.action, {})
            parts.setdefault(fact.event.part, []).append(fact.event)
    return [
        (action, [_together(part, events) for part, events in parts.items()])
        for action, parts in by_action.items()
    ]


def _together(part: str, events: Sequence[ev.WorkRecorded]) -> str:
    """How many of a part the same was done to. One called again may be the same one."""
    several = [event.count for event in events if event.count > 1]
    every = any(event.every for event in events)
    return how_many(part, sum(several) or 1, every=every)


def _replaced(state: State) -> list[tuple[str, int | None]]:
    """Parts used with how many, and parts called replaced whose number was not called."""
    counts: dict[str, int | None] = dict(_counts(state.effective(state.parts_used)))
    for fact in state.effective(state.work):
        if fact.event.action == "replaced":
            counts.setdefault(fact.event.part, None)
    return list(counts.items())


def _counts(
    facts: Sequence[Fact[ev.PartUsed]] | Sequence[Fact[ev.PartNeeded]],
) -> list[tuple[str, int]]:
    counts: dict[str, int] = {}
    for fact in facts:
        counts[fact.event.part] = counts.get(fact.event.part, 0) + fact.event.count
    return list(counts.items())


def _measured(state: State) -> list[Measured]:
    rows = []
    for facts in last_readings(state):
        first, last = facts[0].event, facts[-1].event
        if last.measure == ENGINE_HOURS:
            continue
        same = (first.value, first.unit) == (last.value, last.unit)
        rows.append(
            Measured(
                measure=last.measure,
                found="" if same else figure(first.value, first.unit, state.ounce).called,
                left=figure(last.value, last.unit, state.ounce),
                verdict=verdict_in_plain_words(last, state.ounce),
                source=_not_the_makers(last),
                kind={"in": "good", "unknown": "plain"}.get(last.verdict, "stop"),
            )
        )
    return rows


def _not_the_makers(event: ev.ReadingRecorded) -> str:
    """Where a figure is from that is not the maker's."""
    common = event.window is not None and event.window.source == "common practice"
    return "common practice, not the maker's figure" if common else ""


def _filled(state: State) -> list[Filled]:
    rows = []
    for name in fluids_called(state):
        what = [
            f"{action} {volume.called}{f' ({volume.also})' if volume.also else ''}"
            for action, volume in moved(state, name)
        ]
        level = fluids.standing(state, name).level
        if level is not None:
            what.append(f"level {level}")
        spec = fluids.spec_of(state, name)
        rows.append(Filled(name, ", ".join(what), grade_text(spec)))
    return rows


def _has_engine(state: State) -> bool:
    return state.sheet is None or state.sheet.identification.cycle != "electric"


def _mixes(state: State) -> list[str]:
    if state.sheet is None:
        return []
    return [
        f"{fluid.name}: {fluid.mix:f} parts of fuel to one of oil"
        for fluid in state.sheet.fluid
        if fluid.mix is not None
    ]
