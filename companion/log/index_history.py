"""Everything that the index knows of one machine, as its page shows it."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any, Generic, Literal, TypeVar

from companion.job import events as ev
from companion.job.service_due import ENGINE_HOURS, ServiceDue, services_due
from companion.job.sheet import SpecSheet
from companion.job.state import State
from companion.log.index_found import MachineRow, SessionRow
from companion.log.index_rows import FactRow, event_of
from companion.shelf.rules import shipped_rules

Kept = TypeVar("Kept", bound=ev.Event)


@dataclass(frozen=True, slots=True)
class Noted(Generic[Kept]):
    """Something that was called of the machine and still counts.

    Attributes:
        session: In which session.
        record: Number of its record there.
        at: When.
        event: What.
    """

    session: SessionRow
    record: int
    at: datetime
    event: Kept


@dataclass(frozen=True, slots=True)
class MachineHistory:
    """One machine by all its sessions.

    Attributes:
        row: As the list has it.
        sheet: Its latest spec sheet, where one was loaded.
        ounce: Which fluid ounce the latest session meant.
        sessions: The latest first.
        readings: By measure, in the order of time; the measure that was read last comes first.
        fluids: What it took and gave, in order of time, as all that follows.
        parts_used: From stock.
        parts_needed: Whether or not they came since.
        findings: What was wrong with it.
        work: What was done.
        follow_ups: Whether or not they were seen to since.
        notes: Notes and complaints.
        still_open: Follow-ups and needed parts that nothing was called of since.
        due: Its service intervals, what is overdue first.
        hours: Engine hours called last, or None.
    """

    row: MachineRow
    sheet: SpecSheet | None
    ounce: Literal["us", "imperial"]
    sessions: tuple[SessionRow, ...]
    readings: dict[str, tuple[Noted[ev.ReadingRecorded], ...]]
    fluids: tuple[Noted[ev.FluidMoved], ...]
    parts_used: tuple[Noted[ev.PartUsed], ...]
    parts_needed: tuple[Noted[ev.PartNeeded], ...]
    findings: tuple[Noted[ev.FindingRecorded], ...]
    work: tuple[Noted[ev.WorkRecorded], ...]
    follow_ups: tuple[Noted[ev.FollowUpRecorded], ...]
    notes: tuple[Noted[ev.NoteKept], ...]
    still_open: tuple[ev.ToComeBackTo, ...]
    due: tuple[ServiceDue, ...]
    hours: Noted[ev.ReadingRecorded] | None


def history_of(
    database: sqlite3.Connection,
    row: MachineRow,
    sessions: Sequence[tuple[int, SessionRow]],
    still_open: Iterable[Any],
    at: datetime,
) -> MachineHistory:
    """Gather what the index has of a machine.

    Args:
        database: The index.
        row: The machine.
        sessions: Number and row of each of its sessions, the latest first; at least one.
        still_open: As the index has it.
        at: From which day on it is told what is due.
    """
    noted = _noted(database, sessions)
    by_kind: dict[type[ev.Event], list[Any]] = {}
    for each in noted:
        by_kind.setdefault(type(each.event), []).append(each)

    def of(kind: type[Kept]) -> tuple[Noted[Kept], ...]:
        return tuple(by_kind.get(kind, ()))

    readings: dict[str, list[Noted[ev.ReadingRecorded]]] = {}
    for reading in of(ev.ReadingRecorded):
        readings.setdefault(reading.event.measure, []).append(reading)
    latest_first = sorted(readings.items(), key=lambda item: item[1][-1].at, reverse=True)
    details = _details(database, sessions)
    sheet = _sheet(database, details)
    hours = readings.get(ENGINE_HOURS, [])
    known = State(
        shipped_rules(),
        sheet=sheet,
        earlier=tuple(_earlier(each) for each in hours[-1:]),
        serviced_before=tuple(_serviced(sessions, details)),
    )
    return MachineHistory(
        row=row,
        sheet=sheet,
        ounce=next((each["ounce"] for each in details if each["ounce"]), "us"),
        sessions=tuple(session for _, session in sessions),
        readings={measure: tuple(points) for measure, points in latest_first},
        fluids=of(ev.FluidMoved),
        parts_used=of(ev.PartUsed),
        parts_needed=of(ev.PartNeeded),
        findings=of(ev.FindingRecorded),
        work=of(ev.WorkRecorded),
        follow_ups=of(ev.FollowUpRecorded),
        notes=of(ev.NoteKept),
        still_open=tuple(ev.ToComeBackTo.model_validate(each) for each in still_open),
        due=services_due(known, at),
        hours=hours[-1] if hours else None,
    )


def _noted(
    database: sqlite3.Connection, sessions: Sequence[tuple[int, SessionRow]]
) -> list[Noted[Any]]:
    """What was called, session after session; of one session in the order in which it happened,
    whatever a clock was set to in between."""
    noted = []
    for number, session in sorted(sessions, key=lambda entry: entry[0]):
        rows = database.execute(
            "SELECT seq, place, at, kind, name, value, verdict, event FROM fact "
            "WHERE session = ? ORDER BY place, seq",
            (number,),
        )
        noted += [
            Noted(session, row.seq, datetime.fromisoformat(row.at), event_of(row))
            for row in (FactRow(*values) for values in rows)
        ]
    return noted


def _details(
    database: sqlite3.Connection, sessions: Sequence[tuple[int, SessionRow]]
) -> list[dict[str, Any]]:
    return [
        dict(
            zip(
                ("sheet", "ounce", "services", "hours"),
                database.execute(
                    "SELECT sheet, ounce, services, hours FROM session WHERE number = ?", (number,)
                ).fetchone(),
                strict=True,
            )
        )
        for number, _ in sessions
    ]


def _sheet(database: sqlite3.Connection, details: Sequence[dict[str, Any]]) -> SpecSheet | None:
    digest = next((each["sheet"] for each in details if each["sheet"]), None)
    found = database.execute("SELECT text FROM document WHERE digest = ?", (digest,)).fetchone()
    return None if found is None else SpecSheet.model_validate_json(found[0])


def _earlier(noted: Noted[ev.ReadingRecorded]) -> ev.EarlierReading:
    return ev.EarlierReading(
        measure=noted.event.measure,
        value=noted.event.value,
        unit=noted.event.unit,
        verdict=noted.event.verdict,
        at=noted.at,
        session=noted.session.name,
    )


def _serviced(
    sessions: Sequence[tuple[int, SessionRow]], details: Sequence[dict[str, Any]]
) -> Iterable[ev.EarlierService]:
    """When each item was last done; the sessions come the latest first."""
    done: dict[tuple[str, str], ev.EarlierService] = {}
    for (_, session), each in zip(sessions, details, strict=True):
        for item, work in json.loads(each["services"] or "[]"):
            if session.last is not None:
                hours = None if each["hours"] is None else Decimal(each["hours"])
                done.setdefault(
                    (item, work),
                    ev.EarlierService(item=item, work=work, at=session.last, hours=hours),
                )
    return done.values()
