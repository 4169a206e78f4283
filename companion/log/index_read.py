"""What stands in a row of the index, and how it is asked for."""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Callable, Container, Iterable, Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from companion.errors import CompanionError
from companion.job.danger_table import LOG_UNREAD
from companion.log.identity import SeveralMachines, serial_key
from companion.log.index_found import MachineRow, SessionRow
from companion.log.index_machines import machine_key
from companion.log.names import name_key, slug

COLUMNS = (
    "folder", "name", "status", "why", "opened", "last", "records", "machine", "machine_key",
    "serial", "job", "tags", "invented", "size + sound",
)  # fmt: skip


OF_MACHINE = (
    "machine_key", "serial_key", "name", "serial", "sessions", "unfinished", "last", "invented",
    "standing", "open",
)  # fmt: skip


NAMED = 12
"""Machines that are named where there is none of a name."""

Unread = tuple[str, str | None, str | None]
"""A session whose log cannot be read or is gone: name of the folder, and of which machine and
serial number it was where that is known."""


class NoSuchMachine(CompanionError):
    """No session is of a machine of that name."""


def machine_named(
    database: sqlite3.Connection, name: str, unread: Callable[[], Iterable[Unread]]
) -> tuple[MachineRow, list[Any]]:
    """Find the one machine of a name.

    Args:
        database: The index.
        name: What it is called, or the ``key`` of its row.
        unread: Gives the sessions that cannot be read, which hold the start of their machine.

    Returns:
        Its row, and what is still open on it.

    Raises:
        NoSuchMachine: If no session is of such a machine.
        SeveralMachines: If several go by that name.
    """
    wanted, serial = name_and_serial(name)
    found = _of_name(database, wanted)
    if serial and all(row[1] != serial for row in found):
        # Not a key after all, but a name with an underscore in it.
        found = _of_name(database, name_key(name)) or found
    its = [row for row in found if row[1] in (serial, "") or row[0] != wanted or not serial]
    if len(its) == 1:
        return machine_of_row(its[0], unread()), json.loads(its[0][-1])
    if its:
        listed = " and ".join(f"{row[3]} ('{machine_key(row[0], row[1])}')" for row in its)
        raise SeveralMachines(
            f"Several machines go by the name '{its[0][2]}', with the serial numbers {listed}; "
            "name one of them as it stands in the brackets."
        )
    names = [
        each
        for (each,) in database.execute(
            "SELECT DISTINCT name FROM machine ORDER BY last_at DESC LIMIT ?", (NAMED + 1,)
        )
    ]
    known = f"; there are sessions of {', '.join(names[:NAMED])}" if names else ""
    more = " and others, see 'companion history'" if len(names) > NAMED else ""
    raise NoSuchMachine(f"There is no session of a machine named '{name}'{known}{more}.")


def _of_name(database: sqlite3.Connection, key: str) -> list[Any]:
    return database.execute(
        f"SELECT {', '.join(OF_MACHINE)} FROM machine WHERE machine_key = ? ORDER BY serial",
        (key,),
    ).fetchall()


def hanging_now(
    database: sqlite3.Connection, sessions: Sequence[SessionRow]
) -> Iterable[SessionRow]:
    """Tell apart the tags of sessions that still hang and those that came down since: what counts
    is how the machine stands by all its sessions.

    Args:
        database: The index.
        sessions: As their own logs have them.
    """
    machines: dict[str, list[tuple[str, frozenset[str]]]] = {}
    for session in sessions:
        key = session.machine_key
        if not session.tags or key is None:
            # Of no machine: no other session can have cleared anything.
            yield session
            continue
        if key not in machines:
            machines[key] = [
                (serial, frozenset(json.loads(standing)))
                for serial, standing in database.execute(
                    "SELECT serial_key, standing FROM machine WHERE machine_key = ?", (key,)
                )
            ]
        own = "" if session.serial is None else serial_key(session.serial)
        # Without a serial number it may be any of them.
        its = [on for serial, on in machines[key] if not (own and serial) or own == serial]
        down = tuple(tag for tag in session.tags if its and not any(tag in on for on in its))
        hang = tuple(tag for tag in session.tags if tag not in down)
        yield replace(session, tags=hang, tags_down=down)


def machine_of_row(row: Sequence[Any], unread: Iterable[Unread]) -> MachineRow:
    """Return a machine by its row of ``OF_MACHINE``, and by the sessions that cannot be read."""
    standing = tuple(json.loads(row[8]))
    # What a log says that cannot be read is not known, and holds the start as at the bench.
    if LOG_UNREAD not in standing and any(_is_of(row, *each) for each in unread):
        standing = (LOG_UNREAD, *standing)
    return MachineRow(
        key=machine_key(row[0], row[1]),
        name=row[2],
        serial=row[3],
        sessions=row[4],
        unfinished=row[5],
        last=datetime.fromisoformat(row[6]),
        invented=bool(row[7]),
        standing=standing,
        still_open=len(json.loads(row[9])),
    )


def _is_of(row: Sequence[Any], folder: str, machine: str | None, serial: str | None) -> bool:
    """Whether a session that cannot be read is, or may be, of a machine."""
    if machine is None:
        return slug(row[2]) in folder
    same = serial is None or not row[1] or serial_key(serial) == row[1]
    return bool(same and name_key(machine) == row[0])


def name_and_serial(machine: str) -> tuple[str, str]:
    """Return the key of a name and of a serial number, "" where none is told, from the name of a
    machine or the key of its row; a name may have an underscore in it as well."""
    name, _, serial = machine.partition("_")
    if serial and machine == machine_key(name_key(name), serial_key(serial)):
        return name, serial
    return name_key(machine), ""


def of_machine(machine: str) -> tuple[str, list[Any]]:
    """Return the condition for sessions of a machine, by its name or by the key of its row."""
    name, serial = name_and_serial(machine)
    if serial:
        return "machine_key = ? AND (serial_key IS NULL OR serial_key = ?)", [name, serial]
    return "machine_key = ?", [name]


def literal(word: str) -> str:
    """Return a word for LIKE, with nothing in it that stands for other letters."""
    return word.replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_")


def session_of_row(row: Sequence[Any], away: Container[str]) -> SessionRow:
    """Return a session by its row of ``COLUMNS``.

    Args:
        row: Of the index.
        away: The folders of sessions that were put away.
    """
    values = dict(zip(COLUMNS, row, strict=True))
    values["size"] = values.pop("size + sound")
    folder = os.fsdecode(values["folder"])
    values["archived"] = folder in away
    values["folder"] = Path(folder)
    for name in ("opened", "last"):
        values[name] = None if values[name] is None else datetime.fromisoformat(values[name])
    values["tags"] = tuple(json.loads(values["tags"] or "[]"))
    values["records"] = values["records"] or 0
    values["invented"] = bool(values["invented"])
    return SessionRow(**values)
