"""What one session puts into each table."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from companion.job import events as ev
from companion.job.folding.evolve import evolve
from companion.job.record import Record
from companion.job.state import State
from companion.job.state_values import Fact
from companion.log.followed import follows
from companion.log.identity import identity_of
from companion.log.line import beside_data, digest, rfc3339
from companion.log.reader import contents_of, scan_log
from companion.log.reader import first_line as first_of_log
from companion.shelf.rules import shipped_rules
from companion.transfer.cells import Row, row_of
from companion.transfer.columns import EVENTS, FLUIDS, PARTS, READINGS, SESSIONS, WORK, Table

ID_DIGITS = 16
"""Hex digits of the hash that a session is known by: 64 bits, so that no two of a billion agree by
chance."""


@dataclass(frozen=True, slots=True)
class SessionRead:
    """One session, read for its tables.

    Attributes:
        folder: The session folder.
        records: In order.
        state: Folded from them.
        steps: By record number, the step that was current when it was written.
        first: SHA-256 of the first line of the log.
        last: SHA-256 of the last one.
    """

    folder: Path
    records: tuple[Record, ...]
    state: State
    steps: Mapping[int, str | None]
    first: str
    last: str


@follows
def read_session(folder: Path) -> SessionRead:
    """Read and fold one session.

    Raises:
        CompanionError: As ``companion.log.reader.read_log``.
    """
    found = scan_log(folder)
    records = contents_of(folder, found).records
    state = State.start(shipped_rules())
    steps: dict[int, str | None] = {}
    for record in records:
        state = evolve(state, record)
        steps[record.seq] = state.step
    return SessionRead(folder, records, state, steps, first_line(folder), found.last)


def first_line(folder: Path) -> str:
    """Return the SHA-256 of the first line of a log, which no two sessions share; empty where it
    cannot be read."""
    try:
        return digest(first_of_log(folder).removesuffix(b"\n"))
    except OSError:
        return ""


def rows_of(session: SessionRead, shop: str | None) -> Iterator[tuple[Table, Row]]:
    """Return every row of a session with its table.

    Args:
        session: From ``read_session``.
        shop: Name of the shop, or None.
    """
    where = _where(session, shop)
    heard = {
        record.seq: record.event for record in session.records if isinstance(record.event, ev.Heard)
    }
    yield SESSIONS, row_of(SESSIONS, {**where, **_session(session)})
    state = session.state
    facts: tuple[Fact[Any], ...] = (
        *state.readings,
        *state.fluids,
        *state.levels,
        *state.parts_needed,
        *state.parts_used,
        *state.follow_ups,
        *state.findings,
        *state.work,
    )
    for fact in sorted(facts, key=lambda fact: fact.seq):
        table, values = _own(fact.event)
        shared = _fact(session, fact, heard)
        yield table, row_of(table, {**where, **shared, **values})
    for record in session.records:
        yield EVENTS, row_of(EVENTS, {**where, **_event(state, record, heard)})


def _where(session: SessionRead, shop: str | None) -> dict[str, Any]:
    state = session.state
    identity = identity_of(state)
    return {
        "shop": shop,
        "session": session.folder.resolve().name,
        "session_id": session.first[:ID_DIGITS],
        "machine": None if identity is None else identity.name,
        "serial": state.serial,
        "job": state.card.name if state.card else None,
    }


def _session(session: SessionRead) -> dict[str, Any]:
    state, records = session.state, session.records
    opened = records[0]
    # The latest time, which need not be that of the last record: the clock may have been set back.
    last = max(record.at for record in records)
    clips = {clip for record in records if (clip := _clip(record.event)) is not None}
    return {
        "job_title": state.card.title if state.card else None,
        "model": state.sheet.name if state.sheet else None,
        "invented": state.sheet.invented if state.sheet else None,
        "status": "closed" if state.closed else "parked" if state.parked else "open",
        "opened_at": opened.at,
        "opened_with_offset": rfc3339(opened.at),
        "last_at": last,
        "last_with_offset": rfc3339(last),
        "records": len(records),
        "clips": len(clips),
        "tags": "; ".join(tag.tag for tag in state.tags),
        "software": opened.event.software if isinstance(opened.event, ev.SessionOpened) else None,
        "last_sha256": session.last,
    }


def _record(record: Record | Fact[Any]) -> dict[str, Any]:
    return {
        "record": record.seq,
        "recorded_at": record.at,
        "recorded_with_offset": rfc3339(record.at),
    }


def _fact(session: SessionRead, fact: Fact[Any], heard: Mapping[int, ev.Heard]) -> dict[str, Any]:
    superseded = session.state.superseded.get(fact.seq)
    call = heard.get(fact.event.heard)
    return {
        **_record(fact),
        # A fact in the place of another happened at the step of the other one.
        "step": session.steps.get(fact.place, session.steps[fact.seq]),
        "counts": superseded is None,
        "superseded": superseded,
        # Not every kind of fact can correct another.
        "corrects": dict(fact.event).get("corrects"),
        "heard": fact.event.heard,
        "heard_text": None if call is None else call.text,
        "clip": None if call is None else call.clip,
    }


def _own(event: ev.Event) -> tuple[Table, dict[str, Any]]:
    """The table of a fact, and what stands in its own columns."""
    match event:
        case ev.ReadingRecorded():
            return READINGS, {"measure": event.measure, **_amount(event), **_judged(event)}
        case ev.FluidMoved():
            return FLUIDS, {"action": event.action, "fluid": event.fluid, **_amount(event)}
        case ev.LevelRead():
            return FLUIDS, {"action": "level", "fluid": event.fluid, "level": event.level}
        case ev.PartNeeded():
            return PARTS, {"action": "needed", "part": event.part, "count": event.count}
        case ev.PartUsed():
            return PARTS, {"action": "used", "part": event.part, "count": event.count}
        case ev.FollowUpRecorded():
            return PARTS, {"action": "follow up", "part": event.part}
        case ev.FindingRecorded():
            return WORK, {"about": "finding", "what": event.condition, **_of_part(event)}
        case ev.WorkRecorded():
            return WORK, {"about": "work", "what": event.action, **_of_part(event)}
        case _:
            raise ValueError(f"{event.__class__.__name__} is in no table.")


def _amount(event: ev.ReadingRecorded | ev.FluidMoved) -> dict[str, Any]:
    return {
        "value": event.value,
        "value_number": event.value,
        "unit": event.unit,
        "si_value": event.si.value,
        "si_unit": event.si.unit,
    }


def _judged(event: ev.ReadingRecorded) -> dict[str, Any]:
    window = event.window
    judged = {"verdict": event.verdict, "beyond": event.beyond}
    if window is None:
        return judged
    return {
        **judged,
        "window_low": window.low,
        "window_high": window.high,
        "window_unit": window.unit,
        "window_source": window.source,
    }


def _of_part(event: ev.FindingRecorded | ev.WorkRecorded) -> dict[str, Any]:
    return {"part": event.part, "count": event.count, "every": event.every, "recorded_by": event.by}


def _event(state: State, record: Record, heard: Mapping[int, ev.Heard]) -> dict[str, Any]:
    event = record.event
    call = event if isinstance(event, ev.Heard) else heard.get(event.heard or 0)
    return {
        **_record(record),
        "kind": event.kind,
        "heard": event.heard,
        "heard_text": None if call is None else call.text,
        "superseded": state.superseded.get(record.seq),
        "clip": _clip(event),
        "data": _json(event),
    }


def _clip(event: ev.Event) -> str | None:
    return event.clip if isinstance(event, ev.Heard | ev.NoteKept) else None


def _json(event: ev.AnyEvent) -> str:
    try:
        return event.model_dump_json(exclude=beside_data(event))
    except ValueError:
        # For text that is in no encoding: escaped, JSON can hold it.
        return json.dumps(event.model_dump(exclude=beside_data(event)), default=str)
