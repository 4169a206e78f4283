"""When the log that is written is not the file that it was, or its disk takes nothing more."""

from __future__ import annotations

import errno

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
the folder is another. A full disk is none of them: there room can be made."""


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
