"""Rows of sessions put into the index and taken out of it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable

from companion.log.index_file import SEQS, path_kept, writable
from companion.log.index_rows import SessionRows
from companion.log.sessions import LogSign


def put(database: sqlite3.Connection, read: Iterable[tuple[str, LogSign, SessionRows]]) -> None:
    """Write what was read of logs, in place of what was known of them.

    Args:
        database: In a transaction.
        read: Folder, sign of its log, and its rows.
    """
    for folder, sign, rows in read:
        forget(database, [folder])
        number = _free_number(database, rows.number)
        columns = {"number": number, "size": sign[0], "written": sign[1]} | rows.columns
        columns = {name: writable(value) for name, value in columns.items()}
        columns["folder"] = path_kept(folder)
        database.execute(
            f"INSERT INTO session ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))})",
            tuple(columns.values()),
        )
        database.executemany(
            "INSERT OR IGNORE INTO document VALUES (?, ?)",
            [(key, writable(text)) for key, text in rows.documents],
        )
        database.executemany(
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
        database.executemany(
            "INSERT INTO said (rowid, words, who, at) VALUES (?, ?, ?, ?)",
            [
                (number * SEQS + each.seq, writable(each.words), each.who, each.at)
                for each in rows.said
                if each.seq < SEQS
            ],
        )
        _stale(database, rows.columns.get("machine_key"))


def forget(database: sqlite3.Connection, folders: Iterable[str]) -> None:
    """Take sessions out of the index.

    Args:
        database: In a transaction.
        folders: The session folders.
    """
    for folder in folders:
        row = database.execute(
            "SELECT number, machine_key FROM session WHERE folder = ?", (path_kept(folder),)
        ).fetchone()
        if row is None:
            continue
        number, key = row
        database.execute(
            "DELETE FROM said WHERE rowid >= ? AND rowid < ?",
            (number * SEQS, (number + 1) * SEQS),
        )
        database.execute("DELETE FROM session WHERE number = ?", (number,))
        _stale(database, key)


def _stale(database: sqlite3.Connection, key: str | None) -> None:
    """A machine without its row is worked out anew, even if the program ends before that."""
    if key is not None:
        database.execute("DELETE FROM machine WHERE machine_key = ?", (key,))


def _free_number(database: sqlite3.Connection, wanted: int) -> int:
    """The number of a session, or the next that no other session has."""
    while database.execute("SELECT 1 FROM session WHERE number = ?", (wanted,)).fetchone():
        wanted += 1
    return wanted
