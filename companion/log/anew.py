"""Going on with a log in a new folder, where the old file is no longer the one that was written."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import stat
import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from companion.errors import CompanionError
from companion.files.disk import FOLDER_MODE, open_own, sync_file, sync_folder, write_all
from companion.files.plain import real_path
from companion.log.clips import CLIP_FOLDER
from companion.log.line import LOG_NAME
from companion.log.reader import TORN_NAME
from companion.log.removed import REMOVED_NAME, removed_clips
from companion.log.sessions import sessions_folder
from companion.log.signatures import SIGNATURES_NAME
from companion.log.went_on import put_signpost
from companion.log.writer import LogWriter

TAKEN_ALONG = (CLIP_FOLDER, "photos")
"""Folders of a session whose files the new one gets too."""

_NAMED = re.compile(rb'"(?:clip|file)":"((?:audio|photos)/[A-Za-z0-9_.-]+)"')
"""A clip or photo in a line."""


@dataclass(frozen=True, slots=True)
class Anew:
    """Where a log goes on.

    Attributes:
        writer: Of the new log, which has every record of the one before.
        lacking: How many clips and photos could not be taken along.
        for_now: Whether it stands in a folder that the system empties at its next start.
    """

    writer: LogWriter
    lacking: int
    for_now: bool


def go_on_anew(lost: LogWriter, left: Iterable[Path] = ()) -> Anew:
    """Begin a new log with every record that a writer knows, beside the one that it wrote; where
    nothing can be written there, in the data folder, and where not even there, in the folder of the
    system for what is kept for a while.

    The log that is left is not changed, and the writer of it not closed.

    Args:
        lost: The writer of a live session.
        left: Folders of logs that were lost before this one.

    Raises:
        CompanionError: If it can be written nowhere.
    """
    for parent, for_now in _places(lost.folder):
        folder = _free(parent / lost.folder.name)
        try:
            writer = lost.anew(folder)
        except (CompanionError, OSError):
            # Nothing is lost with what was begun there: it has no record in it.
            with contextlib.suppress(OSError):
                if not (folder / LOG_NAME).is_file() or not (folder / LOG_NAME).stat().st_size:
                    shutil.rmtree(folder)
            continue
        _take_along(lost, folder)
        put_signpost(folder, [*left, real_path(lost.folder)], lost.opened)
        return Anew(writer, _lacking(lost.kept(), folder), for_now)
    raise CompanionError(
        f"The log in {lost.folder} is not the file that it was, and no new one can be written "
        "anywhere; nothing more is recorded. Free some space or make a folder writable, then go on "
        "with 'companion resume' or a new session."
    )


def _places(folder: Path) -> Iterator[tuple[Path, bool]]:
    yield folder.parent, False
    if sessions_folder() != folder.parent:
        yield sessions_folder(), False
    with contextlib.suppress(OSError):
        yield Path(tempfile.mkdtemp(prefix="bench-companion-")), True


def _free(folder: Path) -> Path:
    """An unused name with the next number; never an earlier one again, since that folder may come
    back."""
    numbered = re.fullmatch(r"(.+)-(\d{1,2})", folder.name)
    name, turn = (numbered[1], int(numbered[2]) + 1) if numbered else (folder.name, 2)
    while True:
        free = folder.with_name(f"{name}-{turn}")
        if not os.path.lexists(free):
            return free
        turn += 1


def _lacking(lines: bytes, folder: Path) -> int:
    gone = removed_clips(folder)
    named = {match.decode("ascii") for match in _NAMED.findall(lines)} - set(gone)
    return sum(not (folder / name).is_file() for name in named)


def _take_along(lost: LogWriter, folder: Path) -> None:
    """Give the new folder the sounds, the pictures and the lists beside the log; what cannot be
    had any more is counted by whoever asks."""
    with lost.place() as opened:
        # Both the folder as it was opened, wherever it is now, and whatever stands under its name.
        for place in dict.fromkeys([opened, lost.folder]):
            with contextlib.suppress(OSError):
                for name in _names(place):
                    if name in (REMOVED_NAME, SIGNATURES_NAME) or name.startswith(TORN_NAME):
                        with contextlib.suppress(OSError):
                            _take(place, name, folder)
                sync_folder(folder)
            for kind in TAKEN_ALONG:
                with contextlib.suppress(OSError):
                    _take_all(place, kind, folder / kind)


def _take_all(place: int | Path, kind: str, into: Path) -> None:
    if isinstance(place, Path):
        if not stat.S_ISDIR((place / kind).lstat().st_mode):
            return
        inner: int | Path = place / kind
    else:
        flags = os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW
        inner = os.open(kind, flags, dir_fd=place)
    try:
        into.mkdir(FOLDER_MODE, exist_ok=True)
        for name in _names(inner):
            with contextlib.suppress(OSError):
                _take(inner, name, into)
        sync_folder(into)
    finally:
        if isinstance(inner, int):
            os.close(inner)


def _names(place: int | Path) -> list[str]:
    return sorted(os.listdir(place))


def _take(place: int | Path, name: str, into: Path) -> None:
    """Copy one plain file, synced."""
    where = None if isinstance(place, Path) else place
    path = place / name if isinstance(place, Path) else name
    if not stat.S_ISREG(os.stat(path, dir_fd=where, follow_symlinks=False).st_mode):
        return
    flags = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)
    source = os.open(path, flags, dir_fd=where)
    try:
        copy = open_own(into / name, os.O_WRONLY | os.O_CREAT | os.O_EXCL)
        try:
            while part := os.read(source, 1 << 20):
                write_all(copy, part)
            sync_file(copy)
        finally:
            os.close(copy)
    finally:
        os.close(source)
