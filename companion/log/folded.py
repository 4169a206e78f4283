"""A log read and folded again and again: where it only grew, only what is new is read and folded.

A log that was mended, or changed in place, is read as a whole. ``LogWriter`` reads a log as a whole
before it writes, so damage further up is reported before anything is written.
"""

from __future__ import annotations

import os
import threading
from dataclasses import dataclass
from pathlib import Path

from companion.job.folding.evolve import evolve
from companion.job.record import Record
from companion.job.state import State
from companion.log.followed import followed, state_of
from companion.log.following import FollowedLog
from companion.log.line import LOG_NAME


@dataclass(frozen=True, slots=True)
class Folded:
    """A log as it stood.

    Attributes:
        records: All of them.
        state: Their fold.
        recovered: What was wrong at its end, or None.
        size: Of its file, in bytes, looked at before it was read.
    """

    records: tuple[Record, ...]
    state: State
    recovered: str | None
    size: int


LOGS_KEPT = 12
"""Logs kept folded at most, the latest read; one of a thousand calls takes some megabytes."""

_LOGS: dict[Path, FoldedLog] = {}
_LOOKING = threading.Lock()


def folded_log(folder: Path) -> Folded:
    """Return the log of a session as it stands now, with what is known of it from before.

    Args:
        folder: The session folder.

    Raises:
        CompanionError: As ``read_log``.
    """
    key = Path(os.path.abspath(folder))
    with _LOOKING:
        log = _LOGS.pop(key, None) or FoldedLog(key)
        _LOGS[key] = log
        while len(_LOGS) > LOGS_KEPT:
            _LOGS.pop(next(iter(_LOGS)))
    return log.read()


class FoldedLog:
    """The log of one session, for any number of threads.

    Args:
        folder: The session folder.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._followed = FollowedLog(folder)
        self._kept: Folded | None = None
        self._reading = threading.Lock()

    def read(self) -> Folded:
        """Return it as it stands now.

        Raises:
            CompanionError: As ``read_log``.
        """
        with self._reading:
            kept, self._kept = self._kept, None
            self._kept = self._grown(kept) or self._whole()
            return self._kept

    def _grown(self, kept: Folded | None) -> Folded | None:
        if kept is None or kept.recovered is not None:
            return None
        if not self._followed.has_changed():
            return kept
        size = _size(self._folder)
        if size <= kept.size:
            return None
        anew, fresh = self._followed.read()
        if anew:
            return None
        state = kept.state
        with followed(self._folder):
            for record in fresh:
                state = evolve(state, record)
        return Folded((*kept.records, *fresh), state, None, size)

    def _whole(self) -> Folded:
        self._followed = FollowedLog(self._folder)
        # Looked at before reading: what is written meanwhile is then read a second time, and never
        # missed.
        size = _size(self._folder)
        _, records = self._followed.read()
        recovered = self._followed.recovered
        return Folded(records, state_of(self._folder, records), recovered, size)


def _size(folder: Path) -> int:
    try:
        return os.stat(folder / LOG_NAME).st_size
    except OSError:
        return -1
