"""What the index finds, as lines to print and as plain values for JSON."""

from __future__ import annotations

import shlex
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from companion.job.service_due import ServiceDue
from companion.log.index_found import Hit, MachineRow, SessionRow
from companion.log.index_history import MachineHistory, Noted

UNREAD_NAMED = 5
"""Sessions that could not be read, of which one line says why."""


def machine_line(machine: MachineRow) -> str:
    """Return one line about a machine: what must be known first comes first."""
    serial = f" ({machine.serial})" if machine.serial else ""
    jobs = f"{machine.sessions} job{'' if machine.sessions == 1 else 's'}"
    unfinished = f", {machine.unfinished} not closed" if machine.unfinished else ""
    still_open = f", {machine.still_open} to come back to" if machine.still_open else ""
    standing = f"  DO NOT START: {', '.join(machine.standing)}" if machine.standing else ""
    return (
        f"{machine.name}{serial}{standing}  {jobs}{unfinished}{still_open}, "
        f"last {machine.last:%Y-%m-%d}"
    )


def session_line(session: SessionRow, now: datetime, *, by_path: bool = False) -> str:
    """Return one line about a session: its name, how it stands, what it was about, tags first.

    Args:
        session: The session.
        now: From when its age is told.
        by_path: Whether another session has its name, so that its folder must be told.
    """
    name = str(session.folder) if by_path else session.name
    if session.status == "unreadable":
        return f"{name}  unreadable: {session.why}"
    about = " · ".join(part for part in (session.machine, session.job) if part) or "no card"
    hanging = f"  TAGS HANG: {', '.join(session.tags)}" if session.tags else ""
    down = ", ".join(session.tags_down)
    before = f"; hung at its end, came down since: {down}" if down else ""
    last = "" if session.last is None else f", last {session.last:%Y-%m-%d %H:%M}"
    age = "" if session.last is None else f" ({age_words((now - session.last).days)})"
    return (
        f"{name}  {session.status}{hanging}  {about}{last}{age}, {size_words(session.size)}{before}"
    )


def unread_line(unread: Sequence[SessionRow]) -> str | None:
    """Return one line that counts and names the sessions that could not be read; None where all
    could.

    Args:
        unread: Those that could not.
    """
    if not unread:
        return None
    count = "1 session" if len(unread) == 1 else f"{len(unread)} sessions"
    named = "; ".join(f"{each.name}: {each.why}" for each in unread[:UNREAD_NAMED])
    more = len(unread) - UNREAD_NAMED
    rest = f"; and {more} more, see 'companion sessions'" if more > 0 else ""
    return f"{count} could not be read: {named}{rest}"


def gone_lines(gone: Mapping[Path, str]) -> list[str]:
    """Return a line for each session whose log is gone.

    Args:
        gone: Its folders, each with its machine.
    """
    return [
        f"{folder.name}  gone: {folder} is not there any more, so that what it said of {machine} "
        f"is not known; bring it back, or 'companion sessions --forget {shlex.quote(str(folder))}'"
        for folder, machine in gone.items()
    ]


def gone_values(gone: Mapping[Path, str]) -> list[dict[str, Any]]:
    """Return the sessions whose log is gone for JSON.

    Args:
        gone: Its folders, each with its machine.
    """
    return [
        {"session": folder.name, "folder": str(folder), "machine": machine}
        for folder, machine in gone.items()
    ]


def age_words(days: int) -> str:
    """Return an age in the largest unit that fits: "today", "12 days old", "3 years old"."""
    if days < 1:
        return "today"
    for unit, length, least in (("year", 365, 730), ("month", 30, 60), ("day", 1, 1)):
        if days >= least:
            count = days // length
            return f"{count} {unit}{'' if count == 1 else 's'} old"
    return "today"


def size_words(size: int) -> str:
    """Return a size on disk: "90 kB", "12.5 MB"."""
    return f"{size / 1e6:.1f} MB" if size >= 1_000_000 else f"{max(1, round(size / 1e3))} kB"


def hit_line(hit: Hit) -> str:
    """Return one line about what was found: when and where, then the words."""
    words = "".join(f"[{text}]" if found else text for text, found in hit.snippet)
    who = {"heard": "heard", "note": "note", "said": "answered"}[hit.who]
    about = f" {hit.session.machine}" if hit.session.machine else ""
    return (
        f"{hit.at:%Y-%m-%d %H:%M}{about}  {who}: {words}  ({hit.session.name}, record {hit.record})"
    )


def session_values(session: SessionRow) -> dict[str, Any]:
    """Return a session for JSON."""
    return {
        "session": session.name,
        "folder": str(session.folder),
        "status": session.status,
        "why": session.why,
        "opened": None if session.opened is None else session.opened.isoformat(),
        "last": None if session.last is None else session.last.isoformat(),
        "machine": session.machine,
        "serial": session.serial,
        "job": session.job,
        "tags": list(session.tags),
        "tags_down": list(session.tags_down),
        "invented": session.invented,
        "records": session.records,
        "bytes": session.size,
    }


def machine_values(machine: MachineRow) -> dict[str, Any]:
    """Return a machine for JSON."""
    return {
        "machine": machine.name,
        "key": machine.key,
        "serial": machine.serial,
        "sessions": machine.sessions,
        "unfinished": machine.unfinished,
        "last": machine.last.isoformat(),
        "invented": machine.invented,
        "standing": list(machine.standing),
        "still_open": machine.still_open,
    }


def hit_values(hit: Hit) -> dict[str, Any]:
    """Return a hit for JSON."""
    return {
        "session": hit.session.name,
        "folder": str(hit.session.folder),
        "machine": hit.session.machine,
        "record": hit.record,
        "at": hit.at.isoformat(),
        "who": hit.who,
        "words": hit.words,
    }


def history_values(history: MachineHistory) -> dict[str, Any]:
    """Return everything of a machine for JSON."""
    return {
        **machine_values(history.row),
        "still_open": [each.model_dump(mode="json") for each in history.still_open],
        "due": [_due(each) for each in history.due],
        "readings": {
            measure: _noted(points, leave={"measure"})
            for measure, points in history.readings.items()
        },
        "fluids": _noted(history.fluids),
        "parts_used": _noted(history.parts_used),
        "parts_needed": _noted(history.parts_needed),
        "findings": _noted(history.findings),
        "work": _noted(history.work),
        "follow_ups": _noted(history.follow_ups),
        "notes": _noted(history.notes),
        "jobs": [session_values(session) for session in history.sessions],
    }


def _noted(noted: Iterable[Noted[Any]], leave: Iterable[str] = ()) -> list[dict[str, Any]]:
    return [
        {
            "session": each.session.name,
            "record": each.record,
            "at": each.at.isoformat(),
            **each.event.model_dump(mode="json", exclude={"kind", "heard", *leave}),
        }
        for each in noted
    ]


def _due(item: ServiceDue) -> dict[str, Any]:
    return {
        "item": item.service.item,
        "work": item.service.work,
        "overdue": item.overdue,
        "at_hours": None if item.at_hours is None else str(item.at_hours),
        "on": None if item.on is None else item.on.isoformat(),
        "last": None if item.last_at is None else item.last_at.isoformat(),
    }
