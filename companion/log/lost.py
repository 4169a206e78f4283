"""Errors for a log that is no longer the file that it was, or whose disk takes nothing more."""

from __future__ import annotations

import errno
from pathlib import Path

from companion.errors import CompanionError

GONE = frozenset(
    {
        errno.EROFS,
        errno.EIO,
        errno.ENODEV,
        errno.ENXIO,
        errno.ENOENT,
        errno.ENOTDIR,
        errno.EACCES,
        errno.EPERM,
        getattr(errno, "ESTALE", errno.EIO),
        getattr(errno, "ENOTCONN", errno.EIO),
    }
)
"""Errors after which trying again does not help: the disk was taken away, takes no more writing, or
the folder is another. A full disk is not among them: room can be made on it."""


class LogLost(CompanionError):
    """Nothing more can be written to this log; whoever has its records can go on in a new one.

    Attributes:
        how: What became of it, to be said: completes "the log …".
    """

    def __init__(self, what: str, how: str) -> None:
        super().__init__(what)
        self.how = how


def cannot_write(sentence: str, error: OSError) -> CompanionError:
    """Return the error for a write that failed, which is ``LogLost`` where no other try helps."""
    if error.errno in GONE:
        return LogLost(sentence, "cannot be written any more")
    return CompanionError(sentence)


def was_deleted(folder: Path) -> LogLost:
    """Return the error for a log whose file is gone."""
    return LogLost(
        f"The log in {folder} was deleted while in use; nothing more can be recorded there. Start "
        "a new session with 'companion work'.",
        "was deleted",
    )


def was_moved(folder: Path) -> LogLost:
    """Return the error for a log under whose name no file or another one stands."""
    return LogLost(
        f"The log in {folder} was moved or replaced while in use; nothing more is recorded there. "
        "End this session, and go on with 'companion resume'.",
        "was moved or replaced",
    )


def was_changed(folder: Path) -> LogLost:
    """Return the error for a log in which what was written before does not stand any more."""
    return LogLost(
        f"The log in {folder} was cut short or changed while in use; nothing more is written to "
        "it. End every program that has it open, and look at it with 'companion log check'.",
        "was cut short or changed",
    )


def was_damaged(folder: Path, problem: Exception) -> LogLost:
    """Return the error for a log to which another program wrote what does not go on with it.

    Args:
        folder: The session folder.
        problem: What is wrong with that.
    """
    return LogLost(
        f"The log in {folder} was damaged while in use: {problem}; nothing more is written to it. "
        "Look at it with 'companion log check'.",
        "was damaged",
    )
