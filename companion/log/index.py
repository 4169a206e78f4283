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
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from threading import RLock
from types import TracebackType
from typing import Any, Self, TypeVar

from companion.errors import CompanionError
from companion.files.data import data_folder
from companion.job.uncollected import uncollected
from companion.log.archive import archived as put_away
from companion.log.followed import SENSELESS
from companion.log.identity import serial_key
from companion.log.index_file import (
    SEQS,
    connect,
    in_memory,
    is_broken,
    path_kept,
    throw_away,
)
from companion.log.index_found import Found, Hit, MachineRow, SessionRow, Status
from companion.log.index_history import MachineHistory, history_of
from companion.log.index_machines import refill_machines
from companion.log.index_read import (
    COLUMNS,
    OF_MACHINE,
    Unread,
    hanging_now,
    literal,
    machine_named,
    machine_of_row,
    of_machine,
    session_of_row,
)
from companion.log.index_rows import rows_of
from companion.log.index_words import AROUND, BEGIN, END, match_of, pieces_of
from companion.log.index_write import forget, put
from companion.log.names import name_key
from companion.log.sessions import LogSign, gone_sessions, session_logs

Answer = TypeVar("Answer")

Progress = Callable[[int, int], None]
"""Told how many of how many changed logs are read."""

CANNOT = (sqlite3.DatabaseError, *SENSELESS)
"""Errors of a file that is no index of this program."""

AT_ONCE = 100
"""Sessions written in one go: nobody else waits long, and what was read stays if this is cut short.
"""


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
            values.append(f"%{literal(word)}%")
        if machine is not None:
            where, more = of_machine(machine)
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
            found = [session_of_row(row, away) for row in rows]
            return Found(tuple(hanging_now(self._database, found)), total)

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
            values.append(f"%{literal(word)}%")

        def ask() -> tuple[MachineRow, ...]:
            rows = self._database.execute(
                f"SELECT {', '.join(OF_MACHINE)} FROM machine WHERE {' AND '.join(wheres)} "
                "ORDER BY last_at DESC, machine_key, serial_key",
                values,
            )
            unread = self._unread()
            return tuple(machine_of_row(row, unread) for row in rows)

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
            where, more = of_machine(machine)
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
            row, still_open = machine_named(self._database, name, self._unread)
            where, values = of_machine(row.key)
            found = self._database.execute(
                f"SELECT number, {', '.join(COLUMNS)} FROM session WHERE {where} "
                "ORDER BY last_at DESC, number DESC",
                values,
            ).fetchall()
            away = put_away(self._data)
            numbers = [each[0] for each in found]
            its = hanging_now(self._database, [session_of_row(each[1:], away) for each in found])
            sessions = list(zip(numbers, its, strict=True))
            day = datetime.now().astimezone() if at is None else at
            return history_of(self._database, row, sessions, still_open, day)

        return self._fresh(ask)

    def machine_row(self, name: str) -> MachineRow:
        """Return the row of a machine; arguments and errors are those of ``machine``."""
        return self._fresh(lambda: machine_named(self._database, name, self._unread)[0])

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
        self._write(lambda: forget(self._database, gone))
        for start in range(0, len(changed), AT_ONCE):
            part = changed[start : start + AT_ONCE]
            with uncollected():
                read = [(folder, logs[folder], rows_of(Path(folder))) for folder in part]
                self._write(lambda read=read: put(self._database, read))  # type: ignore[misc]
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

    def _unread(self) -> list[Unread]:
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
                found[number] = session_of_row(row, away)
        return dict(zip(found, hanging_now(self._database, list(found.values())), strict=True))
