"""Verified sessions put among those of the shop: under a free name, or onto a shorter copy."""

from __future__ import annotations

import os
import re
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from companion.errors import CompanionError
from companion.files.data import DATA_VARIABLE, data_folder
from companion.files.disk import (
    lock_for_writing,
    make_folders,
    open_own,
    sync_folder,
    write_once,
)
from companion.files.limits import LARGEST_FILE
from companion.files.plain import is_plain, plain_bytes, stands_there
from companion.log.clips import CLIP_FOLDER
from companion.log.line import LOG_NAME, digest
from companion.log.names import slug
from companion.log.reader import contents_of, log_bytes, scan_log
from companion.log.sessions import session_folders, sessions_folder
from companion.log.tip import TIP_NAME, Tip
from companion.log.writer import LogWriter
from companion.transfer.counted import counted
from companion.transfer.manifest import PackedSession
from companion.transfer.rows import first_line
from companion.transfer.shown import shown
from companion.transfer.unpacking import unpack

STAGE_PREFIX = ".import-"
"""How the folders begin in which ZIPs are unpacked, inside the data folder."""

LOCK_NAME = "lock"
"""File that is locked as long as an import works there."""

NAME = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9._ -]{0,98}[A-Za-z0-9_-])?", re.ASCII)
"""Names of sessions that are kept as they are; others are made plain."""

RESERVED = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)
"""Names that are devices on some systems."""

What = Literal["imported", "here", "longer here", "went on", "beside", "failed"]


@dataclass(frozen=True, slots=True)
class Placed:
    """What became of one session of a ZIP.

    Attributes:
        name: What it was called where it came from.
        what: What became of it.
        line: The same as a sentence.
        folder: Where it is now; None where it was not imported.
    """

    name: str
    what: What
    line: str
    folder: Path | None


def import_sessions(file: Path) -> list[Placed]:
    """Verify a ZIP of sessions, then put them into the data folder.

    A session is known again by the first line of its log. Where the copy here is the same or goes
    on after it, nothing is done; where the imported one goes on, the copy here gets the rest; where
    the two went on differently, both are kept.

    Raises:
        CompanionError: If anything in it is not as it must be, nothing of it is then imported; or
            if the data folder cannot be written.
    """
    data = data_folder()
    try:
        with _stage(data) as stage:
            unpacked = unpack(file, stage)
            known = _known({first_line(folder) for _, folder in unpacked})
            placed = []
            for session, folder in unpacked:
                first = first_line(folder)
                outcome = _place(session, folder, known.setdefault(first, []))
                if outcome.what in ("imported", "beside") and outcome.folder is not None:
                    known[first].append(outcome.folder)
                placed.append(outcome)
            return placed
    except OSError as error:
        raise CompanionError(
            f"The sessions cannot be put into {data} ({error.strerror or error}); free some space "
            f"on the disk, make the folder writable, or set {DATA_VARIABLE} to another; then "
            "import again: what is there already is left as it is."
        ) from None


@contextmanager
def _stage(data: Path) -> Iterator[Path]:
    """A folder to unpack in, on the disk that the sessions are on; gone afterwards.

    What an import left that was killed is removed first.
    """
    make_folders(data)
    for left in data.glob(f"{STAGE_PREFIX}*"):
        if not left.is_symlink() and (lock := _locked(left)) is not None:
            os.close(lock)
            shutil.rmtree(left, ignore_errors=True)
    stage = Path(tempfile.mkdtemp(prefix=STAGE_PREFIX, dir=data))
    lock = _locked(stage)
    try:
        yield stage
    finally:
        if lock is not None:
            os.close(lock)
        shutil.rmtree(stage, ignore_errors=True)


def _locked(stage: Path) -> int | None:
    try:
        descriptor = open_own(stage / LOCK_NAME, os.O_RDWR | os.O_CREAT)
    except OSError:
        return None
    if lock_for_writing(descriptor):
        return descriptor
    os.close(descriptor)
    return None


def _known(wanted: set[str]) -> dict[str, list[Path]]:
    """The sessions of the shop that begin with one of these lines, by its hash."""
    known: dict[str, list[Path]] = {}
    for folder in session_folders():
        first = first_line(folder)
        if first in wanted:
            known.setdefault(first, []).append(folder)
    return known


def _place(session: PackedSession, folder: Path, copies: Sequence[Path]) -> Placed:
    name, new = shown(session.name, 255), log_bytes(folder)
    olds = [(copy, _whole_lines(copy)) for copy in copies]
    for copy, old in olds:
        if old == new:
            line = f"{name} is here already as {copy.name}, the same; nothing was done."
            return Placed(name, "here", line, copy)
        if old is not None and old.startswith(new):
            line = f"{name} is here already as {copy.name}, with more records; nothing was done."
            return Placed(name, "longer here", line, copy)
    try:
        for copy, old in olds:
            if old and new.startswith(old) and _fits_beside(folder, copy):
                _go_on(copy, old, folder, new, session)
                more = session.records - old.count(b"\n")
                line = f"{copy.name} went on by {counted(more, 'record')}."
                return Placed(name, "went on", line, copy)
    except CompanionError as error:
        return Placed(name, "failed", f"{name} was not imported: {error}", None)
    clips = sum(each.path.startswith(f"{CLIP_FOLDER}/") for each in session.files)
    held = f"{counted(session.records, 'record')}, {counted(clips, 'clip')}"
    free = _move(folder, _safe(session.name))
    if copies:
        line = (
            f"{name} differs from {copies[0].name} here; it is kept beside it as {free.name} "
            f"({held})."
        )
        return Placed(name, "beside", line, free)
    called = "" if free.name == name else f" as {free.name}"
    return Placed(name, "imported", f"{name} was imported{called} ({held}).", free)


def _whole_lines(folder: Path) -> bytes | None:
    """What a log holds, up to its last whole line; None where it cannot be used."""
    try:
        found = scan_log(folder)
        contents_of(folder, found)
        data = log_bytes(folder)[: found.end]
    except (CompanionError, OSError):
        return None
    return data + b"\n" if found.unended else data


def _files(folder: Path) -> list[Path]:
    """Paths inside a session folder of all that is not the log and its tip."""
    found = [path.relative_to(folder) for path in folder.rglob("*") if is_plain(path)]
    return sorted(path for path in found if path.name not in (LOG_NAME, TIP_NAME))


def _fits_beside(folder: Path, copy: Path) -> bool:
    """Whether no file of one has the name of a different file of the other."""
    for path in _files(folder):
        there = copy / path
        if there.parent.is_symlink() or there.is_symlink():
            return False
        if not stands_there(there):
            continue
        try:
            if plain_bytes(there, LARGEST_FILE) != plain_bytes(folder / path, LARGEST_FILE):
                return False
        except OSError:
            return False
    return True


def _go_on(copy: Path, old: bytes, folder: Path, new: bytes, session: PackedSession) -> None:
    """Give a copy the records and files that it lacks: the files first, so that no record names
    what is not there.

    Raises:
        CompanionError: If its log is in use or cannot be written.
        OSError: If a file cannot be moved there.
    """
    *_, last_old = old.removesuffix(b"\n").split(b"\n")
    after = Tip(old.count(b"\n"), digest(last_old))
    with LogWriter.open(copy) as writer:
        for path in _files(folder):
            if not stands_there(copy / path):
                write_once(copy / path, plain_bytes(folder / path, LARGEST_FILE))
                sync_folder((copy / path).parent)
        writer.extend(new[len(old) :], after, Tip(session.records, session.last))


def _move(folder: Path, name: str) -> Path:
    """Put a session under a name that is free."""
    base = sessions_folder()
    make_folders(base)
    turn = 1
    while True:
        free = base / (name if turn == 1 else f"{name}-{turn}")
        turn += 1
        if os.path.lexists(free):
            continue
        try:
            folder.rename(free)
        except OSError:
            # Another program took the name just now.
            if os.path.lexists(free):
                continue
            raise
        sync_folder(base)
        return free


def _safe(name: str) -> str:
    plain = name if NAME.fullmatch(name) else slug(name)
    return f"session-{plain}" if RESERVED.fullmatch(plain) else plain
