"""Files opened only if they are plain ones: never through a link, never a pipe or a device."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path
from typing import BinaryIO


def open_plain(path: Path, *, through_link: bool = False) -> BinaryIO:
    """Open a plain file for reading; what is none is not even opened.

    Args:
        path: The file.
        through_link: Whether its name may be a link, as when a person named it.

    Raises:
        OSError: If it cannot be opened or is no plain file.
    """
    before = path.stat() if through_link else path.lstat()
    if not stat.S_ISREG(before.st_mode):
        raise OSError(errno.EINVAL, "no plain file")
    flags = os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0)
    if not through_link:
        flags |= getattr(os, "O_NOFOLLOW", 0)
    descriptor = os.open(path, flags)
    opened = os.fstat(descriptor)
    # It may have been changed for another in between.
    if not stat.S_ISREG(opened.st_mode) or (opened.st_ino, opened.st_dev) != (
        before.st_ino,
        before.st_dev,
    ):
        os.close(descriptor)
        raise OSError(errno.EINVAL, "no plain file")
    return os.fdopen(descriptor, "rb")


def plain_names(folder: Path) -> list[str]:
    """Return the names in a folder, sorted; none where it is a link or no folder."""
    try:
        if not stat.S_ISDIR(folder.lstat().st_mode):
            return []
        return sorted(os.listdir(folder))
    except OSError:
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
        data = file.read(most + 1)
    if len(data) > most:
        raise OSError(errno.EFBIG, "too large for one")
    return data
