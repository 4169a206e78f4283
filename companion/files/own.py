"""What the program has made for itself, by its names: nobody else reads it, and no page, list or
export is ever put in its place, asked for by name or not.
"""

from __future__ import annotations

import contextlib
import os
import re
import stat
from collections.abc import Iterator
from pathlib import Path

from companion.files.disk import FILE_MODE, FOLDER_MODE, PART_PREFIX

LOG = "log.jsonl"
"""By this a folder is known as one of a session."""

OF_A_SESSION = re.compile(r"log\..+|live\.json|\.live\.json\.part|audio\.removed")
"""Names of the files of a session that make up its record or say how it stands."""

SESSION_FOLDERS = frozenset({"audio", "photos"})
"""Folders of a session in which every file is named by a record."""

PAGES = frozenset(
    {"report.html", "handover.html", "tags.html", "parts.html", "parts.txt", "parts.csv"}
)
"""Pages that are written into the folder of a session where no other place is asked for."""

OF_THE_SHOP = re.compile(
    r"elsewhere\.jsonl|archived\.json|board\.token|shop\.key|typed-calls\.txt|ways\.toml|settings\.toml"
    r"|index(-\d+)?\.sqlite(-wal|-shm|-journal)?|forms-used\.json"
)
"""Names of the files of the data folder."""

SHOP_FOLDERS = frozenset({"sessions", "voices"})
"""Folders of the data folder."""

OPEN_TO_OTHERS = 0o077
"""Rights of everybody but the owner."""


def is_kept(path: Path) -> bool:
    """Whether a file belongs to a session's record or to the data folder, or would be taken for
    such a file.

    Args:
        path: It need not be there; it may be named in another case, or by way of a link to a
            folder, where that leads to the same.
    """
    folder = Path(os.path.realpath(path.parent))
    # Windows takes a name with dots or spaces after it for the same.
    name = path.name.casefold().rstrip(" .")
    if _is_session(folder) and (OF_A_SESSION.fullmatch(name) or name in SESSION_FOLDERS):
        return True
    if folder.name.casefold() in SESSION_FOLDERS and _is_session(folder.parent):
        return True
    if any((folder / each).is_dir() for each in SHOP_FOLDERS):
        return bool(OF_THE_SHOP.fullmatch(name)) or name in SHOP_FOLDERS
    return folder.name.casefold() == "voices" and (folder.parent / "sessions").is_dir()


def keep_session_private(folder: Path) -> None:
    """Take a session away from other users of the computer, where an earlier version of the program
    or a copy has left it open to them. Does nothing on Windows.

    Only what is known as the program's own is changed: the folder itself only where nothing else
    stands in it. What belongs to somebody else, or cannot be changed, is left as it is.

    Args:
        folder: The session folder.
    """
    if os.name != "posix" or not _is_open(folder):
        return
    strangers = False
    for name, path in _entries(folder):
        if name in SESSION_FOLDERS:
            for _, file in _entries(path):
                _close(file, FILE_MODE)
            _close(path, FOLDER_MODE)
        elif OF_A_SESSION.fullmatch(name) or name in PAGES or name.startswith(PART_PREFIX):
            _close(path, FILE_MODE)
        else:
            strangers = True
    if not strangers:
        _close(folder, FOLDER_MODE)


def keep_shop_private(data: Path) -> None:
    """The same of the data folder and of what stands directly in it; sessions are looked at when
    they are opened.

    Args:
        data: The data folder; it need not be there.
    """
    if os.name != "posix" or not _is_open(data):
        return
    strangers = False
    for name, path in _entries(data):
        if name in SHOP_FOLDERS:
            _close(path, FOLDER_MODE)
        elif OF_THE_SHOP.fullmatch(name) or name.startswith(PART_PREFIX):
            _close(path, FILE_MODE)
        else:
            strangers = True
    if not strangers:
        _close(data, FOLDER_MODE)


def _is_session(folder: Path) -> bool:
    return os.path.lexists(folder / LOG) or os.path.lexists(folder / "log.live")


def _is_open(folder: Path) -> bool:
    try:
        found = folder.stat()
    except OSError:
        return False
    return stat.S_ISDIR(found.st_mode) and bool(found.st_mode & OPEN_TO_OTHERS)


def _entries(folder: Path) -> Iterator[tuple[str, Path]]:
    with contextlib.suppress(OSError):
        if not folder.is_symlink():
            yield from ((name, folder / name) for name in os.listdir(folder))


def _close(path: Path, mode: int) -> None:
    """Take away what others may do with a file or a folder; the owner's own rights stay."""
    with contextlib.suppress(OSError):
        wanted = stat.S_ISDIR if mode == FOLDER_MODE else stat.S_ISREG
        flags = os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC
        if not wanted(path.lstat().st_mode):
            return
        descriptor = os.open(path, flags)
        try:
            found = os.fstat(descriptor)
            # A file with two names may also be somebody else's; its rights are left as they are.
            if not wanted(found.st_mode) or (mode == FILE_MODE and found.st_nlink > 1):
                return
            if found.st_uid == os.geteuid() and found.st_mode & OPEN_TO_OTHERS:
                os.fchmod(descriptor, stat.S_IMODE(found.st_mode) & ~OPEN_TO_OTHERS)
        finally:
            os.close(descriptor)
