"""The one way into a log: appends that are on the disk when they return, by one program."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from companion.errors import CompanionError
from companion.job.events import AnyEvent
from companion.job.record import Record
from companion.log.clips import CLIP_FOLDER
from companion.log.disk import lock_for_writing, sync_file, sync_folder, write_all
from companion.log.line import FIRST_PREV, LOG_NAME, digest, encode
from companion.log.reader import TORN_NAME, contents_of, scan_log, torn_files
from companion.log.scan import Scan
from companion.log.tip import Tip, read_tip, write_tip


class LogWriter:
    """An open log, locked for this program: ``create`` or ``open`` it, and ``close`` it."""

    def __init__(self, folder: Path, descriptor: int, *, end: int, last: Tip) -> None:
        """Take over an open, locked file that ends with a whole line at ``end``."""
        self.folder = folder
        self._descriptor: int | None = descriptor
        self._end = end
        self._last = last

    @classmethod
    def create(cls, folder: Path) -> Self:
        """Begin the log of a new session; the folder and those above it are made.

        Args:
            folder: Must hold no log with a record in it.

        Raises:
            CompanionError: If it holds one, is in use, or cannot be written.
        """
        try:
            (folder / CLIP_FOLDER).mkdir(parents=True, exist_ok=True)
            descriptor = _open_locked(folder, os.O_CREAT)
            try:
                if os.fstat(descriptor).st_size or read_tip(folder):
                    raise CompanionError(
                        f"{folder} already holds a log; go on with 'companion resume', or name "
                        "another folder."
                    )
                sync_file(descriptor)
                sync_folder(folder)
                sync_folder(folder.parent)
            except BaseException:
                os.close(descriptor)
                raise
        except OSError as error:
            raise _cannot_write(folder, error) from None
        return cls(folder, descriptor, end=0, last=Tip(0, FIRST_PREV))

    @classmethod
    def open(cls, folder: Path) -> Self:
        """Go on with a log; a torn last line is first moved to a file of its own, ``log.torn-1``.

        What was recovered is told by ``read_log``, again and again until a ``Trouble`` event with
        that sentence is appended.

        Args:
            folder: The session folder.

        Raises:
            CompanionError: As ``read_log``, or if another program writes this log, or it cannot be
                written.
        """
        contents_of(folder, scan_log(folder))
        try:
            descriptor = _open_locked(folder)
            try:
                # Only now is it certain that no other program is in the middle of writing a line.
                found = scan_log(folder)
                contents_of(folder, found)
                end = _mend_end(folder, descriptor, found)
            except BaseException:
                os.close(descriptor)
                raise
        except OSError as error:
            raise _cannot_write(folder, error) from None
        return cls(folder, descriptor, end=end, last=Tip(len(found.records), found.last))

    @property
    def next_seq(self) -> int:
        """The number that the next record will have."""
        return self._last.seq + 1

    def append(self, events: Sequence[AnyEvent], at: datetime) -> list[Record]:
        """Write events as records, in one write, and return once they are on the disk.

        Args:
            events: In order.
            at: When they happened, with an offset from UTC.

        Returns:
            The records, in order.

        Raises:
            CompanionError: If they cannot be written. None of them is then in the log; what was
                there stays, and the same append may be tried again.
            ValueError: If ``at`` has no offset, or the writer is closed.
        """
        descriptor = self._descriptor
        if descriptor is None:
            raise ValueError("The log is closed.")
        records = [Record(seq, at, event) for seq, event in enumerate(events, start=self.next_seq)]
        if not records:
            return records
        last = self._last
        lines = b""
        for record in records:
            raw = encode(record, last.digest)
            lines += raw + b"\n"
            last = Tip(record.seq, digest(raw))
        try:
            if os.fstat(descriptor).st_nlink == 0:
                raise CompanionError(
                    f"The log in {self.folder} was deleted while in use; nothing more can be "
                    "recorded there. Start a new session with 'companion work'."
                )
            self._write(descriptor, lines)
        except OSError as error:
            raise _cannot_write(self.folder, error) from None
        self._end += len(lines)
        self._last = last
        # The records are on the disk; a tip left behind them says nothing false.
        with contextlib.suppress(OSError):
            write_tip(self.folder, last)
        return records

    def extend(self, lines: bytes, last: Tip) -> None:
        """Write lines that another copy of this log has after these, as they stand.

        Args:
            lines: Whole lines, each with its line feed, that were found to go on with the chain.
            last: Number and hash of the last of them.

        Raises:
            CompanionError: If they cannot be written; none of them is then in the log.
            ValueError: If the writer is closed.
        """
        if self._descriptor is None:
            raise ValueError("The log is closed.")
        try:
            self._write(self._descriptor, lines)
        except OSError as error:
            raise _cannot_write(self.folder, error) from None
        self._end += len(lines)
        self._last = last
        with contextlib.suppress(OSError):
            write_tip(self.folder, last)

    def close(self) -> None:
        """Release the log; harmless when done already."""
        if self._descriptor is not None:
            os.close(self._descriptor)
            self._descriptor = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _write(self, descriptor: int, lines: bytes) -> None:
        """Write at the end of the last whole line; on failure put the end back there."""
        # What an earlier failure left behind, if it could not be cut then.
        if os.fstat(descriptor).st_size != self._end:
            os.ftruncate(descriptor, self._end)
        try:
            os.lseek(descriptor, self._end, os.SEEK_SET)
            write_all(descriptor, lines)
            sync_file(descriptor)
        except OSError:
            with contextlib.suppress(OSError):
                os.ftruncate(descriptor, self._end)
                sync_file(descriptor)
            raise


def _open_locked(folder: Path, flags: int = 0) -> int:
    """Open the log for reading and writing, for this program alone.

    Raises:
        CompanionError: If another program has it.
        OSError: If it cannot be opened.
    """
    flags |= os.O_RDWR | getattr(os, "O_BINARY", 0)
    descriptor = os.open(folder / LOG_NAME, flags, 0o644)
    if not lock_for_writing(descriptor):
        os.close(descriptor)
        raise CompanionError(
            f"The log in {folder} is in use by another program; end the session that is running "
            "there first."
        )
    return descriptor


def _mend_end(folder: Path, descriptor: int, found: Scan) -> int:
    """Set a torn line aside or add a lacking line feed; return where the log then ends."""
    if found.torn:
        _set_aside(folder, found.torn)
        os.ftruncate(descriptor, found.end)
        sync_file(descriptor)
    if found.unended:
        os.lseek(descriptor, found.end, os.SEEK_SET)
        write_all(descriptor, b"\n")
        sync_file(descriptor)
    return found.end + (1 if found.unended else 0)


def _set_aside(folder: Path, torn: bytes) -> None:
    kept = torn_files(folder)
    number = 1 + (int(kept[-1].removeprefix(TORN_NAME)) if kept else 0)
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    descriptor = os.open(folder / f"{TORN_NAME}{number}", flags, 0o644)
    try:
        write_all(descriptor, torn)
        sync_file(descriptor)
    finally:
        os.close(descriptor)
    sync_folder(folder)


def _cannot_write(folder: Path, error: OSError) -> CompanionError:
    return CompanionError(
        f"The log in {folder} cannot be written ({error.strerror}); free some space on the disk or "
        "make the folder writable, then go on with 'companion resume'. Nothing recorded is lost."
    )
