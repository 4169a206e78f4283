"""The one way into a log: appends that are on the disk when they return.

Several programs may have one log open: the session at the bench, and pages beside it. Each writes
in *turns*, in which it alone has the log and has first taken in what the others wrote.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from companion.errors import CompanionError
from companion.files.disk import (
    lock_for_writing,
    make_folders,
    read_at,
    sync_file,
    unlock,
    write_all,
)
from companion.job.events import AnyEvent
from companion.job.record import Record
from companion.log.cannot_record import (
    busy,
    cannot_begin,
    cannot_write_log,
    require_clock,
    require_readable,
)
from companion.log.clips import CLIP_FOLDER
from companion.log.in_use import take_live
from companion.log.kept_lines import KeptLines
from companion.log.line import FIRST_PREV, LOG_NAME, digest, encode
from companion.log.log_file import (
    PATIENCE_SECONDS,
    close_to_others,
    length_of_last,
    locked,
    mend_end,
    place_of,
    refuse_foreign,
    remove_begun,
    require_still_there,
    set_aside,
    sync_new,
)
from companion.log.lost import was_changed, was_damaged
from companion.log.news import BrokenNews, read_news
from companion.log.reader import (
    LogContents,
    contents_of,
    read_log,
    scan_log,
)
from companion.log.scan import Scan
from companion.log.tip import Tip, read_tip, write_tip
from companion.log.went_on import refuse_lost


class LogWriter:
    """An open log: ``create``, ``open`` or ``beside`` it, and ``close`` it.

    It belongs to one thread; a program that writes from several opens several.
    """

    def __init__(
        self,
        folder: Path,
        descriptor: int,
        *,
        end: int,
        last: Tip,
        last_length: int,
        live: int | None = None,
    ) -> None:
        """Take over an open file that ends with a whole line at ``end``.

        Args:
            folder: The session folder.
            descriptor: Of the log.
            end: Bytes up to the end of its last line.
            last: Number and digest of that line.
            last_length: Its bytes, with the line feed.
            live: What ``take_live`` gave, for the program that works at the session.
        """
        self.folder = folder
        self._descriptor: int | None = descriptor
        self._opened = os.fstat(descriptor)
        self._live = live
        self._end = end
        self._last = last
        self._last_length = last_length
        self._kept = KeptLines()
        self._place = place_of(folder) if live is not None else None
        self._unseen: list[Record] = []
        self._turns = 0
        self._left_behind = b""
        self._mended = False
        self._found: Scan | None = None

    @classmethod
    def create(cls, folder: Path) -> Self:
        """Begin the log of a new session; the folder and those above it are made.

        Args:
            folder: Must hold no log with a record in it.

        Raises:
            CompanionError: If it holds one, is in use, or cannot be written.
        """
        try:
            refuse_foreign(folder)
            make_folders(folder / CLIP_FOLDER)
            close_to_others(folder)
            live = take_live(folder)
            try:
                with locked(folder, os.O_CREAT) as descriptor:
                    if os.fstat(descriptor).st_size or read_tip(folder):
                        raise CompanionError(
                            f"{folder} already holds a log; go on with 'companion resume', or name "
                            "another folder."
                        )
                    sync_new(folder, descriptor)
            except BaseException:
                os.close(live)
                raise
        except OSError as error:
            raise cannot_begin(folder, error) from None
        return cls(folder, descriptor, end=0, last=Tip(0, FIRST_PREV), last_length=0, live=live)

    @classmethod
    def open(cls, folder: Path) -> Self:
        """Go on with a session; a torn last line is first moved to a file of its own,
        ``log.torn-1``.

        What was recovered is told by ``read_log``, again and again until a ``Trouble`` event with
        that sentence is appended.

        Args:
            folder: The session folder.

        Raises:
            CompanionError: As ``read_log``, or if another program works at this session, or its log
                cannot be written.
        """
        found = scan_log(folder)
        contents_of(folder, found)
        close_to_others(folder)
        try:
            live = take_live(folder)
            try:
                return cls._at_its_end(folder, live, before=found)
            except BaseException:
                os.close(live)
                raise
        except OSError as error:
            raise cannot_write_log(folder, error) from None

    @classmethod
    def beside(cls, folder: Path, patience: float = PATIENCE_SECONDS) -> Self:
        """Open the log of a session that another program may be working at, for a few records.

        Otherwise as ``open``.

        Args:
            folder: The session folder.
            patience: How long to wait for the log, in seconds.

        Raises:
            LogBusy: If another program keeps the log to itself.
            CompanionError: As ``read_log``, or if the log cannot be written, or was lost and its
                job goes on in another one.
        """
        refuse_lost(folder)
        if not (folder / LOG_NAME).is_file():
            scan_log(folder)
        try:
            return cls._at_its_end(folder, None, patience)
        except OSError as error:
            raise cannot_write_log(folder, error) from None

    @classmethod
    def _at_its_end(
        cls,
        folder: Path,
        live: int | None,
        patience: float = PATIENCE_SECONDS,
        before: Scan | None = None,
    ) -> Self:
        with locked(folder, patience=patience) as descriptor:
            # Only now is it certain that no other program is in the middle of writing a line.
            found = scan_log(folder, before)
            contents_of(folder, found)
            end = mend_end(folder, descriptor, found)
            length = length_of_last(descriptor, end)
            data = read_at(descriptor, 0, end) if live is not None else b""
        last = Tip(len(found.records), found.last)
        opened = cls(folder, descriptor, end=end, last=last, last_length=length, live=live)
        opened._keep(data)
        # The first append makes a tip, after which nobody could tell that there was none.
        opened._mended = live is None and not found.has_tip
        opened._found = found if live is not None else None
        return opened

    def contents(self) -> LogContents:
        """Return what the log holds; what was read of it at opening is read again, and taken apart
        again only where it is different. Once: it is not kept here.

        Raises:
            CompanionError: As ``read_log``.
        """
        found, self._found = self._found, None
        return read_log(self.folder, found)

    @property
    def next_seq(self) -> int:
        """The number that the next record will have; within a turn that is certain."""
        return self._last.seq + 1

    @property
    def opened(self) -> os.stat_result:
        """The file of the log, as it was opened: it is known by it wherever it is moved."""
        return self._opened

    @property
    def grown(self) -> bool:
        """Whether a turn would bring anything: records of others, or that the log is gone. It costs
        one look at the file."""
        if self._unseen:
            return True
        try:
            found = os.stat(self.folder / LOG_NAME)
        except OSError:
            return True
        return found.st_size != self._end or not os.path.samestat(found, self._opened)

    def recovered(self) -> str | None:
        """Return once, as a sentence for a ``Trouble`` event, that this writer set aside a torn
        line which another program left; None where it did not.

        Raises:
            CompanionError: As ``read_log``.
        """
        mended, self._mended = self._mended, False
        return read_log(self.folder).recovered if mended else None

    @contextlib.contextmanager
    def turn(self, patience: float = PATIENCE_SECONDS) -> Iterator[list[Record]]:
        """Have the log alone until the block ends; a turn within a turn is the same one.

        Args:
            patience: How long to wait for it, in seconds.

        Yields:
            What others appended since the last turn, in order; a turn within a turn brings none.

        Raises:
            LogBusy: If another program keeps the log to itself all that time.
            LogLost: If the log was deleted, moved, replaced, cut short, changed or damaged
                meanwhile, or cannot be reached.
            CompanionError: If it cannot be read, or a newer version writes to it.
            ValueError: If the writer is closed.
        """
        if self._turns:
            yield []
            return
        descriptor = self._open_descriptor()
        if not lock_for_writing(descriptor, patience):
            raise busy(self.folder)
        self._turns = 1
        try:
            try:
                self._look(descriptor)
            except OSError as error:
                raise cannot_write_log(self.folder, error) from None
            news, self._unseen = self._unseen, []
            yield news
        finally:
            self._turns = 0
            if self._descriptor is not None:
                with contextlib.suppress(OSError):
                    unlock(descriptor)

    def append(self, events: Sequence[AnyEvent], at: datetime) -> list[Record]:
        """Write events as records, in one write, and return once they are on the disk.

        Outside of a turn it takes one of its own; what others wrote then stands before these
        records, and is brought by the next turn.

        Args:
            events: In order.
            at: When they happened, with an offset from UTC.

        Returns:
            The records, in order.

        Raises:
            LogLost: As ``turn``, or if its disk takes nothing more.
            CompanionError: If they cannot be written. None of them is then in the log; what was
                there stays, and the same append may be tried again.
            ValueError: If ``at`` has no offset, or the writer is closed.
        """
        descriptor = self._open_descriptor()
        if not self._turns:
            with self.turn() as news:
                self._unseen = news
                return self.append(events, at)
        self._found = None
        require_clock(at)
        records = [Record(seq, at, event) for seq, event in enumerate(events, start=self.next_seq)]
        if not records:
            return records
        last = self._last
        lines = raw = b""
        for record in records:
            raw = encode(record, last.digest)
            require_readable(raw)
            lines += raw + b"\n"
            last = Tip(record.seq, digest(raw))
        try:
            self._write(descriptor, lines)
        except OSError as error:
            raise (cannot_write_log if self._end else cannot_begin)(self.folder, error) from None
        self._keep(lines)
        # Set at once: whatever fails before or after, the next turn finds out what the file holds.
        end = self._end + len(lines)
        self._end, self._last, self._last_length = end, last, len(raw) + 1
        # The records are on the disk; a tip left behind them says nothing false.
        with contextlib.suppress(OSError):
            write_tip(self.folder, last)
        return records

    def extend(self, lines: bytes, after: Tip, last: Tip) -> None:
        """Write lines that another copy of this log has after these, as they stand.

        Args:
            lines: Whole lines, each with its line feed, that were found to go on with the chain.
            after: Number and hash of the line that they follow.
            last: The same of the last of them.

        Raises:
            CompanionError: If another line stands last now, or they cannot be written; none of them
                is then in the log.
            ValueError: If the writer is closed.
        """
        descriptor = self._open_descriptor()
        with self.turn() as news:
            self._unseen = news
            if self._last != after:
                raise CompanionError(
                    f"The log in {self.folder} was gone on with just now; do this again. Nothing "
                    "was changed."
                )
            try:
                self._write(descriptor, lines)
            except OSError as error:
                raise cannot_write_log(self.folder, error) from None
            self._end += len(lines)
            self._keep(lines)
            self._last, self._last_length = last, len(lines) - 1 - lines[:-1].rfind(b"\n")
            with contextlib.suppress(OSError):
                write_tip(self.folder, last)

    def anew(self, folder: Path) -> Self:
        """Begin the log of a new folder with every line of this one, byte for byte, whatever became
        of its file; this one stays open.

        Args:
            folder: Must hold no log; it is made.

        Raises:
            CompanionError: If it cannot be written.
        """
        fresh = self.create(folder)
        try:
            fresh.extend(self.kept(), Tip(0, FIRST_PREV), self._last)
        except BaseException:
            fresh.give_up()
            raise
        fresh._unseen = self._unseen
        return fresh

    def kept(self) -> bytes:
        """Return every line of the log as this writer knows it, from memory; of one that was opened
        ``beside``, nothing."""
        return self._kept.lines()

    @contextlib.contextmanager
    def place(self) -> Iterator[int | Path]:
        """Give the session folder as it was opened, wherever it was moved since: a descriptor, or
        where the system has none for folders, its path."""
        yield self.folder if self._place is None else self._place

    def _keep(self, lines: bytes) -> None:
        # Only the program that works at the session goes on, whatever happens to the file.
        if self._live is not None:
            self._kept.add(lines)

    def give_up(self) -> None:
        """Close a log that came to no record, and remove what ``create`` made for it: an empty log
        would be taken for one that was lost, and hold its machine."""
        if self._live is not None and self._descriptor is not None and not self._end:
            remove_begun(self.folder, self._descriptor)
        self.close()

    def close(self) -> None:
        """Release the log; harmless when done already."""
        for descriptor in (self._descriptor, self._live, self._place):
            if descriptor is not None:
                os.close(descriptor)
        self._descriptor = self._live = self._place = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _open_descriptor(self) -> int:
        if self._descriptor is None:
            raise ValueError("The log is closed.")
        return self._descriptor

    def _look(self, descriptor: int) -> None:
        """Take in what others appended, and mend what one of them left torn.

        Raises:
            CompanionError: If the log is not the one that it was.
            OSError: If it cannot be read or mended.
        """
        require_still_there(self.folder, descriptor)
        size = os.fstat(descriptor).st_size
        # A log that was cut short and written anew may have any length: its last line tells.
        known = self._last_length
        data = read_at(descriptor, self._end - known, size - self._end + known)
        line, data = data[:known], data[known:]
        if size < self._end or (known and digest(line[:-1]) != self._last.digest):
            raise was_changed(self.folder)
        if not data:
            return
        if self._left_behind.startswith(data):
            # One of our own appends failed, and could not be cut off then.
            os.ftruncate(descriptor, self._end)
            sync_file(descriptor)
            return
        self._take_in(descriptor, data)

    def _take_in(self, descriptor: int, data: bytes) -> None:
        try:
            news = read_news(data, self._last)
        except BrokenNews as problem:
            if problem.newer:
                raise CompanionError(
                    f"A newer Bench Companion writes to the log in {self.folder}; install that "
                    "version to go on with it. Nothing was changed."
                ) from None
            raise was_damaged(self.folder, problem) from None
        if news.torn:
            set_aside(self.folder, news.torn)
            os.ftruncate(descriptor, self._end + news.length)
            sync_file(descriptor)
            self._mended = True
        if news.unended:
            os.lseek(descriptor, self._end + news.length, os.SEEK_SET)
            write_all(descriptor, b"\n")
            sync_file(descriptor)
        if news.records:
            fed = 1 if news.unended else 0
            self._end += news.length + fed
            self._keep(data[: news.length] + b"\n" * fed)
            self._last, self._last_length = news.last, news.last_length + fed
            self._unseen.extend(news.records)

    def _write(self, descriptor: int, lines: bytes) -> None:
        """Write at the end of the last whole line; on failure put the end back there."""
        # What an earlier failure left behind, if it could not be cut then.
        if os.fstat(descriptor).st_size != self._end:
            os.ftruncate(descriptor, self._end)
        self._left_behind = lines
        try:
            os.lseek(descriptor, self._end, os.SEEK_SET)
            write_all(descriptor, lines)
            sync_file(descriptor)
        except OSError:
            with contextlib.suppress(OSError):
                os.ftruncate(descriptor, self._end)
                sync_file(descriptor)
            raise
        self._left_behind = b""
