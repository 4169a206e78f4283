"""The index over all sessions of the shop: lists, machines and full-text search at once.

It is made from the logs and kept fresh by itself: whenever it is asked, the logs are looked at
(name, size, time of the last write), and those that changed are read again. Any number of programs
may have it open at the same time.

    with SessionIndex() as index:
        for session in index.sessions("tiller", status="open").rows: ...
        for hit in index.search("shear pin").rows: ...
"""

from __future__ import annotations

import json
import os
import sqlite3
import time
from collections.abc import Callable, Container, Iterable, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from threading import RLock
from types import TracebackType
from typing import Any, Self, TypeVar

from companion.errors import CompanionError
from companion.files.data import data_folder
from companion.job.danger_table import LOG_UNREAD
from companion.log.archive import archived as put_away
from companion.log.followed import SENSELESS
from companion.log.identity import SeveralMachines, serial_key
from companion.log.index_file import (
    SEQS,
    connect,
    in_memory,
    is_broken,
    path_kept,
    throw_away,
    writable,
)
from companion.log.index_found import Found, Hit, MachineRow, SessionRow, Status
from companion.log.index_history import MachineHistory, history_of
from companion.log.index_machines import machine_key, refill_machines
from companion.log.index_rows import SessionRows, rows_of
from companion.log.index_words import AROUND, BEGIN, END, match_of, pieces_of
from companion.log.names import name_key, slug
from companion.log.sessions import LogSign, gone_sessions, session_logs

Answer = TypeVar("Answer")

Progress = Callable[[int, int], None]
"""Told how many of how many changed logs are read."""

CANNOT = (sqlite3.DatabaseError, *SENSELESS)
"""What the file of an index raises that is none of this program's."""

AT_ONCE = 100
"""Sessions written in one go: nobody else waits long, and what was read stays if this is cut short.
"""

NAMED = 12
"""Machines that are named where there is none of a name."""

COLUMNS = (
    "folder", "name", "status", "why", "opened", "last", "records", "machine", "machine_key",
    "serial", "job", "tags", "invented", "size + sound",
)  # fmt: skip

OF_MACHINE = (
    "machine_key", "serial_key", "name", "serial", "sessions", "unfinished", "last", "invented",
    "standing", "open",
)  # fmt: skip


class NoSuchMachine(CompanionError):
    """No session is of a machine of that name."""


class SessionIndex:
    """The index, open. May be used from several threads.

    Args:
        data: The data folder; that of this user if left out.
        fresh_for: Seconds in which the logs are not looked at again, for a page that asks often.
        progress: Told how many of how many logs are read, where there are any.
    """

    def __init__(
        self,
        data: Path | None = None,
        *,
        fresh_for: float = 0.0,
        progress: Progress | None = None,
    ) -> None:
        self._data = data_folder() if data is None else data
        self._fresh_for = fresh_for
        self._progress = progress
        self._looked: float | None = None
        self._logs: dict[str, LogSign] = {}
        self._lock = RLock()
        self._database = connect(self._data)

    def close(self) -> None:
        """Close the file; harmless when done already."""
        with self._lock:
            self._database.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    # --- kept fresh ------------------------------------------------------------------------------
    def refresh(self) -> int:
        """Read what changed since last time.

        Returns:
            How many logs were read.

        Raises:
            CompanionError: If the sessions cannot be listed.
        """
        with self._lock:
            return self._whole(self._read_changed)

    def behind(self) -> int:
        """Return how many logs would have to be read now; none is read for it.

        Raises:
            CompanionError: If the sessions cannot be listed.
        """
        with self._lock:
            try:
                return len(self._changed()[1])
            except sqlite3.DatabaseError:
                return len(session_logs(self._data))

    def rebuild(self) -> int:
        """Throw the index away and make it anew from the logs.

        Returns:
            How many logs were read.

        Raises:
            CompanionError: If the sessions cannot be listed.
        """
        with self._lock:
            self._database.close()
            throw_away(self._data)
            self._database = connect(self._data)
            # Where the file could not be removed, another program has it open.
            self._write(lambda: self._database.execute("UPDATE session SET written = -1"))
            return self._whole(self._read_changed)

    def look_again(self, folders: Iterable[Path]) -> None:
        """Read these sessions anew when next asked, though their logs have not changed: their clips
        have."""
        rows = [(path_kept(str(folder)),) for folder in folders]
        with self._lock:
            self._write(
                lambda: self._database.executemany(
                    "UPDATE session SET written = -1 WHERE folder = ?", rows
                )
            )
            self._looked = None

    # --- asked -----------------------------------------------------------------------------------
    def sessions(
        self,
        query: str = "",
        *,
        machine: str | None = None,
        status: Status | None = None,
        archived: bool | None = False,
        limit: int | None = 50,
        offset: int = 0,
    ) -> Found[SessionRow]:
        """List sessions, the latest first; those that cannot be read stand last.

        Args:
            query: Words that name, machine, serial number or job must have, each at least the
                beginning of one.
            machine: Only those of this machine: its name, or the ``key`` of its row.
            status: Only those that stand so.
            archived: Only those that were put away, or only those that were not; None for both.
            limit: How many at most; None for all.
            offset: How many to pass over.

        Raises:
            CompanionError: If the sessions cannot be listed.
        """
        wheres, values = ["TRUE"], list[Any]()
        for word in query.split():
            wheres.append(
                "(name || ' ' || coalesce(machine, '') || ' ' || coalesce(serial, '') || ' ' "
                "|| coalesce(job, '')) LIKE ? ESCAPE '\\'"
            )
            values.append(f"%{_literal(word)}%")
        if machine is not None:
            where, more = _of_machine(machine)
            wheres.append(where)
            values += more
        if status is not None:
            wheres.append("status = ?")
            values.append(status)
        away = put_away(self._data)
        if archived is not None:
            wheres.append(f"folder {'' if archived else 'NOT '}IN (SELECT value FROM json_each(?))")
            values.append(json.dumps(sorted(away)))
        where = " AND ".join(wheres)

        def ask() -> Found[SessionRow]:
            (total,) = self._database.execute(
                f"SELECT count(*) FROM session WHERE {where}", values
            ).fetchone()
            rows = self._database.execute(
                f"SELECT {', '.join(COLUMNS)} FROM session WHERE {where} "
                "ORDER BY last_at DESC, number DESC LIMIT ? OFFSET ?",
                (*values, -1 if limit is None else limit, offset),
            )
            found = [_session(row, away) for row in rows]
            return Found(tuple(self._hanging_now(found)), total)

        return self._fresh(ask)

    def machines(self, query: str = "") -> tuple[MachineRow, ...]:
        """List the machines, that which was worked on last first.

        Args:
            query: Words that name or serial number must have.

        Raises:
            CompanionError: If the sessions cannot be listed.
        """
        wheres, values = ["TRUE"], list[Any]()
        for word in query.split():
            wheres.append("(name || ' ' || coalesce(serial, '')) LIKE ? ESCAPE '\\'")
            values.append(f"%{_literal(word)}%")

        def ask() -> tuple[MachineRow, ...]:
            rows = self._database.execute(
                f"SELECT {', '.join(OF_MACHINE)} FROM machine WHERE {' AND '.join(wheres)} "
                "ORDER BY last_at DESC, machine_key, serial_key",
                values,
            )
            unread = self._unread()
            return tuple(_machine(row, unread) for row in rows)

        return self._fresh(ask)

    def search(
        self,
        words: str,
        *,
        limit: int = 50,
        offset: int = 0,
        machine: str | None = None,
        who: Sequence[str] = (),
    ) -> Found[Hit]:
        """Find what was said, the latest first.

        Args:
            words: All of them must be in what was said; those in quotation marks together. The last
                may be the beginning of one.
            limit: How many at most.
            offset: How many to pass over.
            machine: Only of this machine: its name, or the ``key`` of its row.
            who: Only ``heard``, ``note`` or ``said``; all if empty.

        Returns:
            The hits; none where there are no words to look for.

        Raises:
            CompanionError: If the sessions cannot be listed.
        """
        match = match_of(words)
        if match is None:
            return Found((), 0)
        wheres, values = ["said MATCH ?"], list[Any]([match])
        if who:
            wheres.append(f"who IN ({', '.join('?' * len(who))})")
            values += who
        if machine is not None:
            where, more = _of_machine(machine)
            wheres.append(f"said.rowid / {SEQS} IN (SELECT number FROM session WHERE {where})")
            values += more
        where = " AND ".join(wheres)

        def ask() -> Found[Hit]:
            (total,) = self._database.execute(
                f"SELECT count(*) FROM said WHERE {where}", values
            ).fetchone()
            found = self._database.execute(
                f"SELECT rowid, at, who, snippet(said, 0, '{BEGIN}', '{END}', '…', {AROUND}) "
                f"FROM said WHERE {where} ORDER BY rowid DESC LIMIT ? OFFSET ?",
                (*values, limit, offset),
            ).fetchall()
            sessions = self._by_number({row[0] // SEQS for row in found})
            return Found(
                tuple(
                    Hit(
                        session=sessions[rowid // SEQS],
                        record=rowid % SEQS,
                        at=datetime.fromisoformat(at),
                        who=speaker,
                        snippet=pieces_of(snippet),
                    )
                    for rowid, at, speaker, snippet in found
                    if rowid // SEQS in sessions
                ),
                total,
            )

        return self._fresh(ask)

    def machine(self, name: str, *, at: datetime | None = None) -> MachineHistory:
        """Return everything that is known of a machine.

        Args:
            name: What it is called, or the ``key`` of its row.
            at: From which day on it is told what is due; today if left out.

        Raises:
            NoSuchMachine: If no session is of such a machine.
            SeveralMachines: If several go by that name.
            CompanionError: If the sessions cannot be listed.
        """

        def ask() -> MachineHistory:
            row, still_open = self._machine_named(name)
            where, values = _of_machine(row.key)
            found = self._database.execute(
                f"SELECT number, {', '.join(COLUMNS)} FROM session WHERE {where} "
                "ORDER BY last_at DESC, number DESC",
                values,
            ).fetchall()
            away = put_away(self._data)
            numbers = [each[0] for each in found]
            its = self._hanging_now([_session(each[1:], away) for each in found])
            sessions = list(zip(numbers, its, strict=True))
            day = datetime.now().astimezone() if at is None else at
            return history_of(self._database, row, sessions, still_open, day)

        return self._fresh(ask)

    def machine_row(self, name: str) -> MachineRow:
        """Return the row of a machine; arguments and errors are those of ``machine``."""
        return self._fresh(lambda: self._machine_named(name)[0])

    def folders_of(self, name: str, serial: str | None = None) -> list[Path]:
        """Return the folders of all sessions that go by a machine's name or serial number, and of
        those that cannot be read.

        Raises:
            CompanionError: If the sessions cannot be listed.
        """

        def ask() -> list[Path]:
            rows = self._database.execute(
                "SELECT folder FROM session WHERE machine_key = ? OR serial_key = ? "
                "OR status = 'unreadable' ORDER BY folder",
                (name_key(name), None if serial is None else serial_key(serial)),
            )
            return [Path(os.fsdecode(folder)) for (folder,) in rows]

        return self._fresh(ask)

    # --- how it is done --------------------------------------------------------------------------
    def _fresh(self, ask: Callable[[], Answer]) -> Answer:
        with self._lock:
            looked = self._looked
            if looked is None or time.monotonic() - looked >= self._fresh_for:
                self._whole(self._read_changed)
                self._looked = time.monotonic()
            return self._whole(ask)

    def _whole(self, act: Callable[[], Answer]) -> Answer:
        """Do something with the database; one that turns out to be broken is made anew first."""
        try:
            return act()
        except sqlite3.DatabaseError as error:
            self._database.close()
            if is_broken(error):
                throw_away(self._data)
            self._database = connect(self._data)
        except SENSELESS:
            # Rows that this program would not have put there.
            self._database.close()
            throw_away(self._data)
            self._database = connect(self._data)
        try:
            self._read_changed()
            return act()
        except CANNOT:
            # Neither this file nor a new one will do: what is asked for is worked out all the same.
            self._database.close()
            self._database = connect(None)
        try:
            self._read_changed()
            return act()
        except SENSELESS as error:
            raise CompanionError(
                "What the sessions hold cannot be told together by this version of Bench Companion "
                f"({type(error).__name__}); ask for one session at a time. Nothing was changed."
            ) from error

    def _changed(self) -> tuple[dict[str, LogSign], list[str], list[str]]:
        """All logs, the folders of those that changed, and those that are listed and gone."""
        logs = self._logs = session_logs(self._data)
        known = {
            os.fsdecode(folder): (size, written)
            for folder, size, written in self._database.execute(
                "SELECT folder, size, written FROM session WHERE status <> 'unreadable'"
            )
        }
        gone = [
            os.fsdecode(folder)
            for (folder,) in self._database.execute("SELECT folder FROM session")
            if os.fsdecode(folder) not in logs
        ]
        return logs, [folder for folder, sign in logs.items() if known.get(folder) != sign], gone

    def _read_changed(self) -> int:
        logs, changed, gone = self._changed()
        if not changed and not gone:
            return 0
        self._write(lambda: self._forget(gone))
        for start in range(0, len(changed), AT_ONCE):
            part = changed[start : start + AT_ONCE]
            read = [(folder, logs[folder], rows_of(Path(folder))) for folder in part]
            self._write(lambda read=read: self._put(read))  # type: ignore[misc]
            if self._progress is not None:
                self._progress(start + len(part), len(changed))
        self._write(lambda: refill_machines(self._database))
        return len(changed)

    def _write(self, act: Callable[[], object]) -> None:
        """Change the database in one go; where that cannot be done, go on with a copy in memory."""
        try:
            self._transact(act)
        except sqlite3.OperationalError as error:
            if is_broken(error):
                raise
            self._database, file = in_memory(self._database), self._database
            file.close()
            self._transact(act)

    def _transact(self, act: Callable[[], object]) -> None:
        self._database.execute("BEGIN IMMEDIATE")
        try:
            act()
            self._database.execute("COMMIT")
        except BaseException:
            with suppress(sqlite3.Error):
                self._database.execute("ROLLBACK")
            raise

    def _put(self, read: Iterable[tuple[str, LogSign, SessionRows]]) -> None:
        for folder, sign, rows in read:
            self._forget([folder])
            number = self._free_number(rows.number)
            columns = {"number": number, "size": sign[0], "written": sign[1]} | rows.columns
            columns = {name: writable(value) for name, value in columns.items()}
            columns["folder"] = path_kept(folder)
            self._database.execute(
                f"INSERT INTO session ({', '.join(columns)}) "
                f"VALUES ({', '.join('?' * len(columns))})",
                tuple(columns.values()),
            )
            self._database.executemany(
                "INSERT OR IGNORE INTO document VALUES (?, ?)",
                [(key, writable(text)) for key, text in rows.documents],
            )
            self._database.executemany(
                "INSERT INTO fact VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
                [
                    (
                        number,
                        f.seq,
                        f.place,
                        f.at,
                        f.kind,
                        writable(f.name),
                        f.value,
                        f.verdict,
                        f.event,
                    )
                    for f in rows.facts
                ],
            )
            self._database.executemany(
                "INSERT INTO said (rowid, words, who, at) VALUES (?, ?, ?, ?)",
                [
                    (number * SEQS + each.seq, writable(each.words), each.who, each.at)
                    for each in rows.said
                    if each.seq < SEQS
                ],
            )
            self._stale(rows.columns.get("machine_key"))

    def _forget(self, folders: Iterable[str]) -> None:
        for folder in folders:
            row = self._database.execute(
                "SELECT number, machine_key FROM session WHERE folder = ?", (path_kept(folder),)
            ).fetchone()
            if row is None:
                continue
            number, key = row
            self._database.execute(
                "DELETE FROM said WHERE rowid >= ? AND rowid < ?",
                (number * SEQS, (number + 1) * SEQS),
            )
            self._database.execute("DELETE FROM session WHERE number = ?", (number,))
            self._stale(key)

    def _stale(self, key: str | None) -> None:
        """A machine without its row is worked out anew, even if the program ends before that."""
        if key is not None:
            self._database.execute("DELETE FROM machine WHERE machine_key = ?", (key,))

    def _free_number(self, wanted: int) -> int:
        """The number of a session, or the next that no other session has."""
        while self._database.execute(
            "SELECT 1 FROM session WHERE number = ?", (wanted,)
        ).fetchone():
            wanted += 1
        return wanted

    def _machine_named(self, name: str) -> tuple[MachineRow, list[Any]]:
        wanted, serial = _named(name)
        found = self._of_name(wanted)
        if serial and all(row[1] != serial for row in found):
            # Not a key after all, but a name with an underscore in it.
            found = self._of_name(name_key(name)) or found
        its = [row for row in found if row[1] in (serial, "") or row[0] != wanted or not serial]
        if len(its) == 1:
            return _machine(its[0], self._unread()), json.loads(its[0][-1])
        if its:
            listed = " and ".join(f"{row[3]} ('{machine_key(row[0], row[1])}')" for row in its)
            raise SeveralMachines(
                f"Several machines go by the name '{its[0][2]}', with the serial numbers {listed}; "
                "name one of them as it stands in the brackets."
            )
        names = [
            each
            for (each,) in self._database.execute(
                "SELECT DISTINCT name FROM machine ORDER BY last_at DESC LIMIT ?", (NAMED + 1,)
            )
        ]
        known = f"; there are sessions of {', '.join(names[:NAMED])}" if names else ""
        more = " and others, see 'companion history'" if len(names) > NAMED else ""
        raise NoSuchMachine(f"There is no session of a machine named '{name}'{known}{more}.")

    def _of_name(self, key: str) -> list[Any]:
        return self._database.execute(
            f"SELECT {', '.join(OF_MACHINE)} FROM machine WHERE machine_key = ? ORDER BY serial",
            (key,),
        ).fetchall()

    def _unread(self) -> list[tuple[str, str | None, str | None]]:
        """Sessions whose log cannot be read or is gone: name of the folder, and of which machine
        and serial number it was where that is known."""
        return [
            *self._database.execute(
                "SELECT name, machine, serial FROM session WHERE status = 'unreadable'"
            ),
            *(
                (folder.name, machine, None)
                for folder, machine in gone_sessions(self._data, self._logs).items()
            ),
        ]

    def _by_number(self, numbers: Iterable[int]) -> dict[int, SessionRow]:
        found = {}
        away = put_away(self._data)
        for number in numbers:
            row = self._database.execute(
                f"SELECT {', '.join(COLUMNS)} FROM session WHERE number = ?", (number,)
            ).fetchone()
            if row is not None:
                found[number] = _session(row, away)
        return dict(zip(found, self._hanging_now(list(found.values())), strict=True))

    def _hanging_now(self, sessions: Sequence[SessionRow]) -> Iterable[SessionRow]:
        """Tell apart the tags of sessions that still hang and those that came down since: what
        counts is how the machine stands by all its sessions."""
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
                    for serial, standing in self._database.execute(
                        "SELECT serial_key, standing FROM machine WHERE machine_key = ?", (key,)
                    )
                ]
            own = "" if session.serial is None else serial_key(session.serial)
            # Without a serial number it may be any of them.
            its = [on for serial, on in machines[key] if not (own and serial) or own == serial]
            down = tuple(tag for tag in session.tags if its and not any(tag in on for on in its))
            hang = tuple(tag for tag in session.tags if tag not in down)
            yield replace(session, tags=hang, tags_down=down)


def _machine(
    row: Sequence[Any], unread: Iterable[tuple[str, str | None, str | None]]
) -> MachineRow:
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


def _named(machine: str) -> tuple[str, str]:
    """The key of a name and of a serial number, "" where none is told, from the name of a machine
    or the key of its row; a name may have an underscore in it as well."""
    name, _, serial = machine.partition("_")
    if serial and machine == machine_key(name_key(name), serial_key(serial)):
        return name, serial
    return name_key(machine), ""


def _of_machine(machine: str) -> tuple[str, list[Any]]:
    """The condition for sessions of a machine, by its name or by the key of its row."""
    name, serial = _named(machine)
    if serial:
        return "machine_key = ? AND (serial_key IS NULL OR serial_key = ?)", [name, serial]
    return "machine_key = ?", [name]


def _literal(word: str) -> str:
    return word.replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_")


def _session(row: Sequence[Any], away: Container[str]) -> SessionRow:
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
