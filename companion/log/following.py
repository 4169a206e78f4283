"""A log that another program writes, followed as it grows: only what is new is read."""

from __future__ import annotations

import os
from pathlib import Path

from companion.errors import CompanionError
from companion.files.limits import LARGEST_LOG_HERE
from companion.files.plain import open_plain
from companion.job.record import Record
from companion.log.line import FIRST_PREV, LOG_NAME
from companion.log.news import BrokenNews, read_news
from companion.log.reader import contents_of, scan_log
from companion.log.tip import Tip


class FollowedLog:
    """The records of a session up to now.

    Args:
        folder: The session folder.

    Attributes:
        recovered: What was wrong at the end of the log when it was last read whole, or None.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.recovered: str | None = None
        self._path = folder / LOG_NAME
        self._seen: tuple[int, int, int] | None = None
        self._end = 0
        self._last = Tip(0, FIRST_PREV)

    def has_changed(self) -> bool:
        """Return whether the log was written to since ``read``, or is gone or another: a glance."""
        return self._sign() != self._seen

    def read(self) -> tuple[bool, tuple[Record, ...]]:
        """Return the records that are new, and whether they begin the log anew: at the first
        reading, and where what stood there before was changed.

        Raises:
            CompanionError: As ``read_log``.
        """
        sign = self._sign()
        try:
            fresh = self._grown(sign)
            if fresh is not None:
                self._seen = sign
                return False, fresh
            found = scan_log(self.folder)
            self.recovered = contents_of(self.folder, found).recovered
        except CompanionError:
            self._seen, self._last = sign, Tip(0, FIRST_PREV)
            raise
        self._seen, self._end = sign, found.end + found.unended
        self._last = Tip(len(found.records), found.last)
        return True, found.records

    def _grown(self, sign: tuple[int, int, int] | None) -> tuple[Record, ...] | None:
        """What was appended since; None where that cannot be told from the end alone."""
        if not self._last.seq or self._seen is None or sign is None:
            return None
        if sign[0] != self._seen[0] or sign[1] < self._end:
            return None
        try:
            with open_plain(self._path) as log:
                log.seek(self._end)
                data = log.read(LARGEST_LOG_HERE)
        except (OSError, MemoryError):
            return None
        try:
            news = read_news(data, self._last)
        except BrokenNews:
            return None
        self._end += news.length + news.unended
        self._last = news.last
        return news.records

    def _sign(self) -> tuple[int, int, int] | None:
        try:
            stat = os.lstat(self._path)
        except OSError:
            return None
        return stat.st_ino, stat.st_size, stat.st_mtime_ns
