"""Whether a program works on a session now, and whether it listens: a small file in the folder.

``live.json`` says what the program at the bench does; it is put in place whole at every change, and
touched in between as a sign of life. It only tells whoever looks: no record depends on it. The file
outlives a program that was killed; whether the program runs is told by its lock on the session,
which ends with it.
"""

from __future__ import annotations

import contextlib
import json
import os
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Literal, get_args

from companion.files.disk import open_own, write_all
from companion.files.plain import plain_bytes
from companion.log.in_use import is_live

STATUS_NAME = "live.json"
"""File name of the status inside a session folder."""

MOST_BYTES = 4096
"""Of the file; a status takes a hundred."""

BEAT = timedelta(seconds=5)
"""How often the running program gives a sign of life."""

SILENT_AFTER = timedelta(seconds=45)
"""Without a sign of life for so long the program is taken to be stuck. It gives none while it
recognizes a call or says a piece of an answer, which take seconds; our own figure."""

Mode = Literal["listening", "key", "speaking", "no microphone", "typed"]
"""What the program does: listens, waits for the push-to-talk key, speaks (and hears nothing
meanwhile), has lost its microphone, takes typed calls only."""


@dataclass(frozen=True, slots=True)
class LiveStatus:
    """What a running program does.

    Attributes:
        mode: None where it could not be written or read.
        since: Since when it does that; None where ``mode`` is.
        sign: Its last sign of life; None where it never gave one.
    """

    mode: Mode | None = None
    since: datetime | None = None
    sign: datetime | None = None


class LiveSign:
    """The running program's own side: keeps the file.

    Nothing here may keep a job from going on: what cannot be written is left unsaid.

    Args:
        folder: The session folder.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._path = folder / STATUS_NAME
        self._mode: Mode | None = None
        self._beat: datetime | None = None

    def show(self, mode: Mode, at: datetime) -> None:
        """Say what the program does, where that has changed, and that it is alive."""
        if mode != self._mode:
            self._mode = mode if self._write(mode, at) else None
            self._beat = at
        elif self._beat is None or not timedelta(0) <= at - self._beat < BEAT:
            self._beat = at
            with contextlib.suppress(OSError):
                os.utime(self._path)

    def close(self) -> None:
        """Remove the file; harmless when done already."""
        self._mode = None
        with contextlib.suppress(OSError):
            self._path.unlink(missing_ok=True)

    def _write(self, mode: Mode, at: datetime) -> bool:
        line = json.dumps({"v": 1, "pid": os.getpid(), "mode": mode, "at": at.isoformat()})
        partial = self._path.with_name(f".{STATUS_NAME}.part")
        try:
            # Remove what a killed program left behind; of a link only the link goes.
            partial.unlink(missing_ok=True)
            descriptor = open_own(partial, os.O_WRONLY | os.O_CREAT | os.O_EXCL)
            try:
                write_all(descriptor, f"{line}\n".encode())
            finally:
                os.close(descriptor)
            # Not synced: after a power cut nothing runs, and the file says nothing.
            partial.replace(self._path)
        except OSError:
            # Remove it, since what it says now would be untrue.
            with contextlib.suppress(OSError):
                partial.unlink(missing_ok=True)
            with contextlib.suppress(OSError):
                self._path.unlink(missing_ok=True)
            return False
        return True


def live_status(folder: Path) -> LiveStatus | None:
    """Return what the program that works on a session does now; None where none does."""
    if not is_live(folder):
        return None
    path = folder / STATUS_NAME
    try:
        line = json.loads(plain_bytes(path, MOST_BYTES))
        sign = datetime.fromtimestamp(path.stat().st_mtime, UTC)
        mode, since = line["mode"], datetime.fromisoformat(line["at"])
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return LiveStatus()
    known = mode in get_args(Mode) and since.tzinfo is not None
    return LiveStatus(mode, since, sign) if known else LiveStatus(sign=sign)
