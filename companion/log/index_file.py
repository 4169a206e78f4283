"""The file of the index: an SQLite database in the data folder, made when it is not there.

Everything in it comes from the logs, so nothing is lost with it. One that is broken, or of an older
version of the program, is thrown away and made anew. One of a newer version is left alone, and this
program keeps its own beside it.
"""

from __future__ import annotations

import os
import sqlite3
import stat
from contextlib import suppress
from pathlib import Path
from typing import Any

from companion.files.disk import open_own
from companion.files.plain import is_plain, stands_there

INDEX_NAME = "index.sqlite"
"""File name of the index inside the data folder."""

APPLICATION = 0x42436978
"""Application number in the header of the file, so that no other database is taken for it."""

VERSION = 4
"""Of the tables below; one more whenever they, or what is put into them, change."""

PATIENCE = 10.0
"""How long a write waits for that of another program, in seconds."""

SCHEMA = """
CREATE TABLE session (
    number INTEGER PRIMARY KEY,
    folder TEXT NOT NULL UNIQUE,
    size INTEGER NOT NULL,
    written INTEGER NOT NULL,
    name TEXT NOT NULL,
    status TEXT NOT NULL,
    why TEXT,
    opened TEXT,
    last TEXT,
    last_at REAL,
    records INTEGER,
    machine TEXT,
    machine_key TEXT,
    serial TEXT,
    serial_key TEXT,
    job TEXT,
    sheet TEXT,
    card TEXT,
    ounce TEXT,
    invented INTEGER,
    tags TEXT,
    services TEXT,
    hours TEXT,
    sound INTEGER NOT NULL DEFAULT 0
);
CREATE INDEX session_by_time ON session (last_at DESC, number DESC);
CREATE INDEX session_by_machine ON session (machine_key, last_at DESC);
CREATE TABLE document (
    digest TEXT PRIMARY KEY,
    text TEXT NOT NULL
) WITHOUT ROWID;
CREATE TABLE fact (
    session INTEGER NOT NULL REFERENCES session (number) ON DELETE CASCADE ON UPDATE CASCADE,
    seq INTEGER NOT NULL,
    place INTEGER NOT NULL,
    at TEXT NOT NULL,
    kind TEXT NOT NULL,
    name TEXT NOT NULL,
    value REAL,
    verdict TEXT,
    event TEXT NOT NULL,
    PRIMARY KEY (session, seq)
) WITHOUT ROWID;
CREATE TABLE machine (
    machine_key TEXT NOT NULL,
    serial_key TEXT NOT NULL,
    name TEXT NOT NULL,
    serial TEXT,
    sessions INTEGER NOT NULL,
    unfinished INTEGER NOT NULL,
    last TEXT NOT NULL,
    last_at REAL NOT NULL,
    invented INTEGER,
    standing TEXT NOT NULL,
    open TEXT NOT NULL,
    PRIMARY KEY (machine_key, serial_key)
) WITHOUT ROWID;
CREATE VIRTUAL TABLE said USING fts5 (
    words, who UNINDEXED, at UNINDEXED, tokenize = 'porter unicode61 remove_diacritics 2'
);
"""
"""``session.number`` is when it was opened, in milliseconds; ``said.rowid`` is that number times
``SEQS`` and the number of the record, so that what was said stands in order of time."""

SEQS = 1 << 20
"""Records of one session that the index tells apart; a long day has a thousand."""

BROKEN = frozenset({sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB})
"""Primary error codes of a file that is no database, or no whole one."""


def connect(data: Path | None) -> sqlite3.Connection:
    """Open the index of a data folder, or make it.

    Where nothing can be written there, or there is no data folder, it is held in memory: slower,
    since it is made each time, but no less right.

    Args:
        data: The data folder; None to hold the index in memory.
    """
    if data is not None and data.is_dir():
        for name in (INDEX_NAME, f"index-{VERSION}.sqlite"):
            opened = _open(data / name)
            if opened is not None:
                return opened
    memory = sqlite3.connect(":memory:", check_same_thread=False)
    _make(memory)
    return memory


def in_memory(database: sqlite3.Connection) -> sqlite3.Connection:
    """Return a copy of an index that is held in memory, for one that cannot be written; an empty
    one where it cannot be read either."""
    memory = sqlite3.connect(":memory:", check_same_thread=False)
    try:
        database.backup(memory)
        _prepare(memory)
    except sqlite3.DatabaseError:
        memory.close()
        memory = sqlite3.connect(":memory:", check_same_thread=False)
        _make(memory)
    return memory


def throw_away(data: Path) -> None:
    """Remove the index of a data folder, for it to be made anew; never one of a newer version."""
    for name in (INDEX_NAME, f"index-{VERSION}.sqlite"):
        path = data / name
        if is_plain(path) and not _is_foreign(path):
            _remove(path)


def is_broken(error: sqlite3.Error) -> bool:
    """Whether an error says that the file is no whole database."""
    code = getattr(error, "sqlite_errorcode", None)
    return code is not None and code & 0xFF in BROKEN


def _open(path: Path) -> sqlite3.Connection | None:
    """Open this file, made anew if need be; None where it is another's or cannot be had."""
    if stands_there(path) and not is_plain(path):
        return None
    for _ in range(2):
        database: sqlite3.Connection | None = None
        if not _made_private(path):
            return None
        try:
            database = sqlite3.connect(
                path, timeout=PATIENCE, check_same_thread=False, isolation_level=None
            )
            version = _version(database)
            if version == VERSION:
                _prepare(database)
                return database
            if version is None or version > VERSION:
                database.close()
                return None
            if version == 0:
                _prepare(database)
                _make(database)
                return database
        except sqlite3.Error as error:
            if not is_broken(error):
                if database is not None:
                    database.close()
                return None
        # Broken or of an older version.
        if database is not None:
            database.close()
        if not _remove(path):
            return None
    return None


def _made_private(path: Path) -> bool:
    """Make the file, for its owner alone, where there is none: the database would leave that to the
    umask, and gives the files beside it the same rights. False where what is there is a link or no
    plain file."""
    try:
        for beside in ("-wal", "-shm", "-journal"):
            with suppress(FileNotFoundError):
                if not stat.S_ISREG(path.with_name(path.name + beside).lstat().st_mode):
                    return False
        if os.path.lexists(path):
            return stat.S_ISREG(path.lstat().st_mode)
        os.close(open_own(path, os.O_RDWR | os.O_CREAT))
    except OSError:
        return False
    return True


def _version(database: sqlite3.Connection) -> int | None:
    """Of an index; 0 where the file is still empty, None where it is another database."""
    (application,) = database.execute("PRAGMA application_id").fetchone()
    (version,) = database.execute("PRAGMA user_version").fetchone()
    (tables,) = database.execute("SELECT count(*) FROM sqlite_master").fetchone()
    if not tables:
        return 0
    return int(version) if application == APPLICATION else None


def _is_foreign(path: Path) -> bool:
    try:
        database = sqlite3.connect(path, timeout=PATIENCE)
        try:
            version = _version(database)
        finally:
            database.close()
    except sqlite3.Error as error:
        return not is_broken(error)
    return version is None or version > VERSION


def _prepare(database: sqlite3.Connection) -> None:
    # Readers go on while another program writes; what a power cut takes is read again.
    database.execute("PRAGMA journal_mode = WAL")
    database.execute("PRAGMA synchronous = NORMAL")
    database.execute("PRAGMA foreign_keys = ON")
    database.isolation_level = None


def _make(database: sqlite3.Connection) -> None:
    """Make the tables, unless another program has just done so."""
    database.isolation_level = None
    database.execute("BEGIN IMMEDIATE")
    try:
        if _version(database) == 0:
            for statement in SCHEMA.split(";"):
                if statement.strip():
                    database.execute(statement)
            database.execute(f"PRAGMA application_id = {APPLICATION}")
            database.execute(f"PRAGMA user_version = {VERSION}")
        database.execute("COMMIT")
    except BaseException:
        with suppress(sqlite3.Error):
            database.execute("ROLLBACK")
        raise
    database.execute("PRAGMA foreign_keys = ON")


def _remove(path: Path) -> bool:
    try:
        for each in (path, path.with_name(f"{path.name}-wal"), path.with_name(f"{path.name}-shm")):
            each.unlink(missing_ok=True)
    except OSError:
        return False
    return True


def path_kept(path: str) -> str | bytes:
    """Return a path as the database takes it: one whose bytes are no text as those bytes;
    ``os.fsdecode`` brings both back."""
    try:
        path.encode()
    except UnicodeEncodeError:
        return os.fsencode(path)
    return path


def writable(value: Any) -> Any:
    """Return a value as the database takes it: a text without halves of characters."""
    if not isinstance(value, str) or value.isascii():
        return value
    return value.encode(errors="replace").decode()
