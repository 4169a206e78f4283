"""Files opened only if they are plain ones: never through a link, never a pipe or a device."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path, PurePath
from typing import BinaryIO

NOT_THERE = (errno.ENOENT, errno.ENOTDIR)
"""Errors which mean that there is no such file; all others mean that it cannot be looked at."""


def open_plain(path: Path, *, through_link: bool = False) -> BinaryIO:
    """Open a plain file for reading; what is none is not even opened.

    Args:
        path: The file.
        through_link: Whether its name may be a link, as when a person named it.

    Raises:
        OSError: If it cannot be opened or is no plain file.
    """
    try:
        before = path.stat() if through_link else path.lstat()
    except ValueError:
        raise OSError(errno.EINVAL, "no name of a file") from None
    if stat.S_ISLNK(before.st_mode):
        raise OSError(errno.ELOOP, "a link, not a plain file")
    if not stat.S_ISREG(before.st_mode):
        raise OSError(errno.EINVAL, "no plain file")
    flags = os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0)
    if not through_link:
        flags |= getattr(os, "O_NOFOLLOW", 0)
    descriptor = os.open(path, flags)
    opened = os.fstat(descriptor)
    # It may have been replaced in between.
    if not stat.S_ISREG(opened.st_mode) or (opened.st_ino, opened.st_dev) != (
        before.st_ino,
        before.st_dev,
    ):
        os.close(descriptor)
        raise OSError(errno.EINVAL, "no plain file")
    return os.fdopen(descriptor, "rb")


def open_inside(folder: Path, within: str, name: str) -> BinaryIO:
    """Open a plain file in a folder of a folder, neither of them reached through a link; the outer
    folder may be.

    Args:
        folder: The outer folder, as a person may have named it.
        within: Name of the folder inside it.
        name: Of the file.

    Raises:
        OSError: If it cannot be opened, is no plain file, or either name leads elsewhere.
    """
    for each in (within, name):
        if not each or each in (".", "..") or "/" in each or os.sep in each or "\0" in each:
            raise OSError(errno.EINVAL, "no name of a file")
    inner = folder / within
    if not stat.S_ISDIR(inner.lstat().st_mode):
        raise OSError(errno.ENOTDIR, f"{within} is no plain folder")
    return open_plain(inner / name)


def plain_names(folder: Path) -> list[str]:
    """Return the names in a folder, sorted; none where it is a link or no folder."""
    try:
        if not stat.S_ISDIR(folder.lstat().st_mode):
            return []
        return sorted(os.listdir(folder))
    except (OSError, ValueError):
        return []


def plain_bytes(path: Path, most: int) -> bytes:
    """Return what a plain file holds.

    Args:
        path: The file; no link.
        most: Bytes that it may hold.

    Raises:
        OSError: If it cannot be read, is no plain file, or holds more.
    """
    with open_plain(path) as file:
        return bytes_up_to(file, most)


def bytes_inside(folder: Path, within: str, name: str, most: int) -> bytes:
    """Return what a plain file in a folder of a folder holds; see ``open_inside``.

    Args:
        folder: The outer folder, as of a session.
        within: The folder in it, as of its clips.
        name: Of the file.
        most: Bytes that it may hold.

    Raises:
        OSError: As ``open_inside``, or if it holds more.
    """
    with open_inside(folder, within, name) as file:
        return bytes_up_to(file, most)


def bytes_up_to(file: BinaryIO, most: int) -> bytes:
    """Return what is in an open file from here on.

    Raises:
        OSError: If that is more, or cannot be read.
    """
    # What is too large is told before any of it fills the memory.
    if os.fstat(file.fileno()).st_size > most:
        raise OSError(errno.EFBIG, f"too large, above {most // 2**20 or 1} MiB")
    try:
        data = file.read(most + 1)
    except MemoryError:
        raise OSError(errno.ENOMEM, "too large for the memory of this machine") from None
    if len(data) > most:
        raise OSError(errno.EFBIG, f"too large, above {most // 2**20 or 1} MiB")
    return data


def stands_there(path: str | os.PathLike[str]) -> bool:
    """Whether anything has this name, or may have it where that cannot be told: a folder that may
    not be looked into is not gone."""
    try:
        os.lstat(path)
    except ValueError:
        return False
    except OSError as error:
        return error.errno not in NOT_THERE
    return True


def is_plain(path: str | os.PathLike[str]) -> bool:
    """Whether a plain file has this name; not where that cannot be told."""
    try:
        return stat.S_ISREG(os.lstat(path).st_mode)
    except (OSError, ValueError):
        return False


def is_plain_below(folder: Path, path: str) -> bool:
    """Whether a path leads to a plain file below a folder without a link or a step outward.

    Args:
        folder: As a person may have named it.
        path: As a file of somebody else gives it.
    """
    parts = PurePath(path).parts
    if not parts or PurePath(path).is_absolute() or ".." in parts:
        return False
    inner = folder
    try:
        for part in parts[:-1]:
            inner = inner / part
            if not stat.S_ISDIR(inner.lstat().st_mode):
                return False
    except (OSError, ValueError):
        return False
    return is_plain(inner / parts[-1])


def real_path(path: Path) -> Path:
    """Return a path without links, as far as they can be followed: a loop of links is left as it
    stands."""
    try:
        return path.resolve()
    except (OSError, RuntimeError, ValueError):
        return Path(os.path.abspath(path))
