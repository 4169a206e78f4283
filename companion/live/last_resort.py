"""Unexpected failures: each is told in a sentence and kept in a file without a word of what was
said, and the session goes on.

It goes on from what the log says and nothing else. A log that cannot be written, a full disk and an
output that nobody reads still end it.
"""

from __future__ import annotations

import contextlib
import errno
import platform
import sys
import traceback
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from types import TracebackType

from companion import __version__
from companion.errors import CompanionError
from companion.files.disk import write_new
from companion.job.events import Asked, Heard, Said, Trouble
from companion.job.record import Record

CRASH_STEM = "crash"
MOST_CRASH_FILES = 20
"""Crash files of one session; each kind of failure is written once."""
MOST_FRAMES = 30
"""Lines of a traceback that are kept at either end: a recursion has a thousand alike."""

WAITS = (0.0, 1.0, 2.0, 5.0, 10.0, 30.0)
"""Seconds for which something is left alone after it failed once, twice and so on in a row."""
END_AFTER = 3
"""After this many failures of the same kind in a row, the message also says how to end the
session."""

AGAIN = "Something went wrong. What you called is safe. Say it again."
NOTHING_CALLED = "Something went wrong. What you called is safe. Look at your timers."
UNSURE = (
    "Something went wrong. What was read back is safe. Of the last call it cannot be told yet "
    "whether it is recorded."
)
STANDS = "Something went wrong, but this is recorded."
WENT_WRONG = "Something went wrong."
HOW_TO_END = (
    "It goes wrong again and again. What you called is safe. End this with Control C, and go on "
    "with companion resume."
)

_USED_UP = (errno.EMFILE, errno.ENFILE, errno.ENOMEM)
"""No more handles or memory: they come back when this program or another frees some."""
_DISK_FULL = (errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC))
_RESERVE_BYTES = 2**20


class Failures:
    """The failures of one session, by what was being done.

    Args:
        folder: Where crash files go.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._row: dict[str, int] = {}
        self._until: dict[str, datetime] = {}
        self._written: set[tuple[str, ...]] = set()
        self._count = 0
        # Freed where memory is short, so that there is some for what is said then.
        self._reserve: bytes | None = bytes(_RESERVE_BYTES)

    def went_well(self, doing: str) -> None:
        """Note that something was done as it should be."""
        if doing in self._row:
            del self._row[doing]
            del self._until[doing]

    def left_alone(self, doing: str, at: datetime) -> bool:
        """Whether it failed so often that it is not tried for now."""
        until = self._until.get(doing)
        # A clock that is set back must not keep timers from ringing.
        return until is not None and timedelta(0) < until - at <= timedelta(seconds=WAITS[-1])

    def count(self, doing: str, at: datetime) -> int:
        """Count one more in a row, and return how many that makes."""
        row = self._row.get(doing, 0) + 1
        self._row[doing] = row
        self._until[doing] = at + timedelta(seconds=WAITS[min(row, len(WAITS)) - 1])
        return row

    def write(self, error: BaseException, doing: str, at: datetime) -> Path | None:
        """Write the crash file of a failure.

        Args:
            error: What was raised.
            doing: What was being done, in our own words.
            at: When.

        Returns:
            The file; None where one of the same kind is there, or none can be written.
        """
        self._reserve = None
        try:
            lines = crash_lines(error)
            kind = tuple(lines)
            if kind in self._written or self._count >= MOST_CRASH_FILES:
                return None
            if not self.folder.is_dir():
                # The folder was moved or removed during the session: nobody would look there.
                return None
            head = (
                f"companion {__version__}, Python {platform.python_version()}, {sys.platform}",
                f"{at.isoformat(timespec='seconds')}, while this was done: {doing}",
                "",
            )
            text = "\n".join((*head, *lines, ""))
            path = write_new(self.folder, CRASH_STEM, ".txt", text.encode("ascii", "replace"))
            self._count += 1
            self._written.add(kind)
            return path
        except Exception:
            # If the last resort fails too, nothing is left to try.
            return None
        finally:
            with contextlib.suppress(MemoryError):
                self._reserve = bytes(_RESERVE_BYTES)


def ends_session(error: BaseException) -> bool:
    """Whether a failure is one of those that end a session with a sentence of their own."""
    if not isinstance(error, Exception):
        return True
    if any(isinstance(each, OSError) and each.errno in _USED_UP for each in _chain(error)):
        return False
    if isinstance(error, OSError):
        return isinstance(error, BrokenPipeError) or error.errno in _DISK_FULL
    return isinstance(error, CompanionError)


def what_stands(records: Sequence[Record], *, called: bool) -> str:
    """Return what is true after something failed.

    Args:
        records: What of it is in the log all the same.
        called: Whether it was a call; else the clock, or what others wrote.
    """
    events = [record.event for record in records]
    said = " ".join(event.text for event in events if isinstance(event, Said))
    if called and not any(isinstance(event, Heard) for event in events):
        return AGAIN
    if not events:
        return NOTHING_CALLED
    facts = [event for event in events if not isinstance(event, Heard | Said | Trouble)]
    # What was only asked, or not understood, is not recorded.
    doubtful = any(
        isinstance(event, Asked) or (isinstance(event, Heard) and event.outcome != "record")
        for event in events
    )
    return f"{STANDS if facts and not doubtful else WENT_WRONG} {said}".strip()


def crash_lines(error: BaseException) -> list[str]:
    """Say where something was raised and what kind it was, in lines for a file.

    No message, no value and no line of the source: they may hold words that were said.
    """
    lines: list[str] = []
    for each in _chain(error):
        frames = [_frame(part) for part in _parts(each.__traceback__)]
        if len(frames) > 2 * MOST_FRAMES:
            left = len(frames) - 2 * MOST_FRAMES
            frames[MOST_FRAMES:-MOST_FRAMES] = [f"  ({left} more)"]
        kind = type(each)
        number = f" (errno {each.errno})" if isinstance(each, OSError) else ""
        lines += [*frames, f"{kind.__module__}.{kind.__qualname__}{number}"]
    return lines


def _chain(error: BaseException) -> Iterator[BaseException]:
    """What was raised, and what it was raised from, the first of all first."""
    found: list[BaseException] = []
    each: BaseException | None = error
    while each is not None and each not in found and len(found) < MOST_CRASH_FILES:
        found.append(each)
        each = each.__cause__ or each.__context__
    return reversed(found)


def _parts(trace: TracebackType | None) -> Iterator[tuple[str, int, str]]:
    for frame, line in traceback.walk_tb(trace):
        yield frame.f_code.co_filename, line, frame.f_code.co_name


def _frame(part: tuple[str, int, str]) -> str:
    file, line, function = part
    # Only the part of the path that is the same everywhere: whose computer it was is nobody's
    # business.
    names = Path(file).parts
    for root in ("companion", "site-packages"):
        if root in names:
            place = len(names) - 1 - names[::-1].index(root)
            names = names[place if root == "companion" else place + 1 :]
            break
    else:
        names = names[-1:]
    return f"  {'/'.join(names)}, line {line}, in {function}"
