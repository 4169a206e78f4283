"""Whether a program works at a session now: a lock on a file of its own, so that others may write
into the log meanwhile."""

from __future__ import annotations

import os
from pathlib import Path

from companion.errors import CompanionError
from companion.files.disk import is_locked, lock_for_writing, open_own
from companion.files.plain import open_plain

LIVE_NAME = "log.live"
"""File name of the lock inside a session folder; the file is empty and stays when it is free."""

LOOKED_AT_SECONDS = 0.2
"""How long a session that begins tries: a program that asks ``is_live`` holds the lock for an
instant."""


def take_live(folder: Path) -> int:
    """Take a session for this program, until the descriptor is closed or the program ends.

    Raises:
        CompanionError: If another program works at it.
        OSError: If the file cannot be made.
    """
    descriptor = open_own(folder / LIVE_NAME, os.O_RDWR | os.O_CREAT)
    if not lock_for_writing(descriptor, LOOKED_AT_SECONDS):
        os.close(descriptor)
        raise CompanionError(
            f"The log in {folder} is in use by another program; end the session that is running "
            "there first."
        )
    return descriptor


def is_live(folder: Path) -> bool:
    """Whether a program works at the session: the bench, not a page beside it.

    Args:
        folder: The session folder; nothing is made or changed there.
    """
    try:
        with open_plain(folder / LIVE_NAME) as lock:
            return is_locked(lock.fileno())
    except OSError:
        return False
