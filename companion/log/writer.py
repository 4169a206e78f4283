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
from companion.files.data import DATA_VARIABLE, data_folder
from companion.files.disk import (
    lock_for_writing,
    make_folders,
    open_own,
    read_at,
    sync_file,
    sync_folder,
    unlock,
    write_all,
    write_once,
)
from companion.files.limits import YEARS
from companion.files.own import keep_session_private, keep_shop_private
from companion.job.events import AnyEvent
from companion.job.record import Record
from companion.log.clips import CLIP_FOLDER
from companion.log.in_use import LIVE_NAME, take_live
from companion.log.kept_lines import KeptLines
from companion.log.line import FIRST_PREV, LOG_NAME, LineProblem, decode, digest, encode
from companion.log.live_status import STATUS_NAME
from companion.log.lost import LogLost, cannot_write
from companion.log.news import BrokenNews, read_news
from companion.log.reader import (
    TORN_NAME,
    LogContents,
    contents_of,
    read_log,
    scan_log,
    torn_files,
)
from companion.log.scan import Scan
from companion.log.tip import TIP_NAME, Tip, read_tip, write_tip
from companion.log.went_on import refuse_lost

PATIENCE_SECONDS = 5.0
"""How long a turn is waited for; another program has the log for some milliseconds at a time."""


class LogBusy(CompanionError):
    """Another program kept the log to itself for too long; the same may be tried again."""


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
        self._place = _place_of(folder) if live is not None else None
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
            str(folder).encode()
        except UnicodeEncodeError:
            raise CompanionError(
                f"{folder} is no name that can be written down; name another folder."
            ) from None
        try:
            _refuse_foreign(folder)
            make_folders(folder / CLIP_FOLDER)
            _close_to_others(folder)
            live = take_live(folder)
            try:
                with _locked(folder, os.O_CREAT) as descriptor:
                    if os.fstat(descriptor).st_size or read_tip(folder):
                        raise CompanionError(
                            f"{folder} already holds a log; go on with 'companion resume', or name "
                            "another folder."
                        )
                    sync_file(descriptor)
                    sync_folder(folder)
                    sync_folder(folder.parent)
                    # A program that was killed may have made those above and not come to sync them.
                    for above in Path(os.path.abspath(folder)).parents[1:]:
                        with contextlib.suppress(OSError):
                            sync_folder(above)
            except BaseException:
                os.close(live)
                raise
        except OSError as error:
            raise _cannot_begin(folder, error) from None
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
        _close_to_others(folder)
        try:
            live = take_live(folder)
            try:
                return cls._at_its_end(folder, live, before=found)
            except BaseException:
                os.close(live)
                raise
        except OSError as error:
            raise _cannot_write(folder, error) from None

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
            raise _cannot_write(folder, error) from None

    @classmethod
    def _at_its_end(
        cls,
        folder: Path,
        live: int | None,
        patience: float = PATIENCE_SECONDS,
        before: Scan | None = None,
    ) -> Self:
        with _locked(folder, patience=patience) as descriptor:
            # Only now is it certain that no other program is in the middle of writing a line.
            found = scan_log(folder, before)
            contents_of(folder, found)
            end = _mend_end(folder, descriptor, found)
            length = _length_of_last(descriptor, end)
            data = read_at(descriptor, 0, end) if live is not None else b""
        last = Tip(len(found.records), found.last)
        opened = cls(folder, descriptor, end=end, last=last, last_length=length, live=live)
        opened._keep(data)
        # Its first append makes a tip, and then nobody could tell any more that there was none.
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
            raise _busy(self.folder)
        self._turns = 1
        try:
            try:
                self._look(descriptor)
            except OSError as error:
                raise _cannot_write(self.folder, error) from None
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
            _require_readable(raw)
            lines += raw + b"\n"
            last = Tip(record.seq, digest(raw))
        try:
            self._write(descriptor, lines)
        except OSError as error:
            raise (_cannot_write if self._end else _cannot_begin)(self.folder, error) from None
        self._keep(lines)
        # At one stroke: whatever fails before or after it, the next turn finds out what stands.
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
                raise _cannot_write(self.folder, error) from None
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
            with contextlib.suppress(OSError):
                ours = os.fstat(self._descriptor)
                if not ours.st_size and os.path.samestat(ours, os.lstat(self.folder / LOG_NAME)):
                    (self.folder / LOG_NAME).unlink()
                    (self.folder / LIVE_NAME).unlink()
                    (self.folder / CLIP_FOLDER).rmdir()
                    self.folder.rmdir()
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
        self._still_there(descriptor)
        size = os.fstat(descriptor).st_size
        # Cut short and written anew it may have any length: its last line tells.
        known = self._last_length
        data = read_at(descriptor, self._end - known, size - self._end + known)
        line, data = data[:known], data[known:]
        if size < self._end or (known and digest(line[:-1]) != self._last.digest):
            raise LogLost(
                f"The log in {self.folder} was cut short or changed while in use; nothing more is "
                "written to it. End every program that has it open, and look at it with 'companion "
                "log check'.",
                "was cut short or changed",
            )
        if not data:
            return
        if self._left_behind.startswith(data):
            # An append of ours that failed, and could not be cut off then.
            os.ftruncate(descriptor, self._end)
            sync_file(descriptor)
            return
        self._take_in(descriptor, data)

    def _still_there(self, descriptor: int) -> None:
        try:
            named = os.stat(self.folder / LOG_NAME)
        except FileNotFoundError:
            named = None
        if named is None and os.fstat(descriptor).st_nlink == 0:
            raise LogLost(
                f"The log in {self.folder} was deleted while in use; nothing more can be "
                "recorded there. Start a new session with 'companion work'.",
                "was deleted",
            )
        if named is None or not os.path.samestat(named, self._opened):
            raise LogLost(
                f"The log in {self.folder} was moved or replaced while in use; nothing more is "
                "recorded there. End this session, and go on with 'companion resume'.",
                "was moved or replaced",
            )

    def _take_in(self, descriptor: int, data: bytes) -> None:
        try:
            news = read_news(data, self._last)
        except BrokenNews as problem:
            if problem.newer:
                raise CompanionError(
                    f"A newer Bench Companion writes to the log in {self.folder}; install that "
                    "version to go on with it. Nothing was changed."
                ) from None
            raise LogLost(
                f"The log in {self.folder} was damaged while in use: {problem}; nothing more is "
                "written to it. Look at it with 'companion log check'.",
                "was damaged",
            ) from None
        if news.torn:
            _set_aside(self.folder, news.torn)
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


@contextlib.contextmanager
def _locked(folder: Path, flags: int = 0, patience: float = PATIENCE_SECONDS) -> Iterator[int]:
    """Open the log for reading and writing, and have it alone until the block ends; it is left
    open, unless the block fails.

    Raises:
        LogBusy: If another program has it all that time.
        OSError: If it cannot be opened.
    """
    descriptor = open_own(folder / LOG_NAME, os.O_RDWR | flags)
    try:
        if not lock_for_writing(descriptor, patience):
            raise _busy(folder)
        yield descriptor
        unlock(descriptor)
    except BaseException:
        os.close(descriptor)
        raise


def _close_to_others(folder: Path) -> None:
    keep_session_private(folder)
    keep_shop_private(data_folder())


def _refuse_foreign(folder: Path) -> None:
    """Leave a folder alone in which files stand that are called like ours and are none."""
    if os.path.lexists(folder / LIVE_NAME):
        # A session that was begun here; whether it came to a record is looked at next.
        return
    for name in (LOG_NAME, TIP_NAME, STATUS_NAME):
        path = folder / name
        if os.path.lexists(path) and (path.is_symlink() or path.stat().st_size):
            raise CompanionError(
                f"{folder} already holds a log, or what is called like one ({name}); go on with "
                "'companion resume', or name another folder."
            )


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


def _length_of_last(descriptor: int, end: int) -> int:
    """Bytes of the line that ends at ``end``, with its line feed."""
    length = 1 << 16
    while True:
        begin = max(0, end - length)
        feed = read_at(descriptor, begin, end - 1 - begin).rfind(b"\n")
        if feed >= 0 or begin == 0:
            return end - (begin + feed + 1 if feed >= 0 else 0)
        length *= 16


def _set_aside(folder: Path, torn: bytes) -> None:
    kept = torn_files(folder)
    number = 1 + (int(kept[-1].removeprefix(TORN_NAME)) if kept else 0)
    write_once(folder / f"{TORN_NAME}{number}", torn)
    sync_folder(folder)


def require_clock(at: datetime) -> None:
    """Refuse a time that no log is read with.

    Raises:
        CompanionError: If the year is none of ``YEARS``.
    """
    if at.year not in YEARS:
        raise CompanionError(
            f"The clock of this computer says that it is the year {at.year}; set it right, then go "
            "on with 'companion resume'. Nothing recorded is lost."
        )


def _require_readable(raw: bytes) -> None:
    """Refuse a line that could not be read again: nothing is acknowledged that would be damage.

    Raises:
        CompanionError: If it could not.
    """
    try:
        decode(raw)
    except LineProblem as problem:
        raise CompanionError(
            f"This cannot be recorded, for the record {problem}; say it another way. Nothing of it "
            "is in the log, and nothing recorded is lost."
        ) from None


def _busy(folder: Path) -> LogBusy:
    return LogBusy(
        f"The log in {folder} is held by another program and does not come free; end that program, "
        "then do this again. Nothing recorded is lost."
    )


def _cannot_write(folder: Path, error: OSError) -> CompanionError:
    return cannot_write(
        f"The log in {folder} cannot be written ({error.strerror}); free some space on the disk or "
        "make the folder writable, then go on with 'companion resume'. Nothing recorded is lost.",
        error,
    )


def _cannot_begin(folder: Path, error: OSError) -> CompanionError:
    return cannot_write(
        f"The log in {folder} cannot be written ({error.strerror}); free some space on the disk, "
        f"make the folder writable, or name another one (--out, or {DATA_VARIABLE} for all). "
        "Nothing was begun.",
        error,
    )


def _place_of(folder: Path) -> int | None:
    """A descriptor of the folder itself, which it keeps when it is moved."""
    if not hasattr(os, "O_DIRECTORY") or os.open not in os.supports_dir_fd:
        return None
    with contextlib.suppress(OSError):
        return os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    return None
