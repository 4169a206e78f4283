"""The log of one session: held for a turn at a time, and replaced by a new one where it is lost."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from datetime import datetime
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from companion.errors import CompanionError
from companion.files.plain import real_path
from companion.job.events import AnyEvent, Trouble
from companion.job.record import Record
from companion.log.anew import go_on_anew
from companion.log.clips import Clip, keep_clip
from companion.log.lost import LogLost
from companion.log.other_places import list_other_place
from companion.log.writer import LogWriter


class OwnLog:
    """Writes the records of a session and keeps them, whatever happens to the file.

    Args:
        writer: The log, of this program while it lives.
        moved: Called with the folders that are left each time the log goes on in another.

    Attributes:
        writer: Of the log that is written now.
        left: Folders whose logs were lost, and this one goes on in place of.
        machine: Name of the session's machine, by which another folder is listed; None where it
            has none.
    """

    def __init__(self, writer: LogWriter, moved: Callable[[set[Path]], None]) -> None:
        self.writer = writer
        self.left: set[Path] = set()
        self.machine: str | None = None
        self._moved = moved
        self._went_on: Trouble | None = None
        self._told: list[Record] = []
        self._warning: str | None = None

    @property
    def folder(self) -> Path:
        """The session folder."""
        return self.writer.folder

    @property
    def warns(self) -> bool:
        """Whether something happened to the log that is still to be said."""
        return self._warning is not None

    @contextmanager
    def alone(self, patience: float) -> Iterator[list[Record]]:
        """Have the log alone, a new one where it is lost, and give what others wrote.

        Args:
            patience: How long whoever has it is waited for, in seconds.

        Raises:
            LogBusy: If another program does not let go of it.
            CompanionError: If it is lost and can be written nowhere.
        """
        with ExitStack() as alone:
            try:
                news = alone.enter_context(self.writer.turn(patience))
            except LogLost as lost:
                self._go_on_anew(lost)
                news = alone.enter_context(self.writer.turn(patience))
            yield news

    def append(self, events: Sequence[AnyEvent], at: datetime) -> list[Record]:
        """Write events; where their log is lost, into a new one, after which stands what happened.

        Args:
            events: What happened, in order.
            at: When.

        Returns:
            Their records, and after them that of what happened to the log.

        Raises:
            CompanionError: If they can be written nowhere.
        """
        try:
            records = self.writer.append(events, at)
        except LogLost as lost:
            self._go_on_anew(lost)
            records = self.writer.append(events, at)
        if self._went_on is None:
            return records
        told = self.writer.append([self._went_on], at)
        self._went_on = None
        self._told += told
        return [*records, *told]

    def keep_clip(self, samples: NDArray[np.float32]) -> Clip:
        """Keep a sound beside the log, under the number of the record that comes next.

        Raises:
            CompanionError: As ``append``.
        """
        try:
            return keep_clip(self.folder, self.writer.next_seq, samples)
        except LogLost as lost:
            self._go_on_anew(lost)
            return keep_clip(self.folder, self.writer.next_seq, samples)

    def leave(self, folders: Iterable[Path]) -> None:
        """Take in which logs were left before this program was started."""
        self.left |= set(folders)

    def what_was_told(self) -> list[Record]:
        """Give the records of what happened to the log since this was asked last."""
        told, self._told = self._told, []
        return told

    def take_warning(self) -> str | None:
        """Give what is to be said of what happened to the log, once."""
        warning, self._warning = self._warning, None
        return warning

    def _go_on_anew(self, lost: LogLost) -> None:
        """Go on in a new log beside the one that is lost: it gets every record that was ever
        acknowledged.

        Raises:
            CompanionError: If it can be written nowhere.
        """
        before = self.writer
        last = before.next_seq - 1
        anew = go_on_anew(before, sorted(self.left))
        self.writer = anew.writer
        before.close()
        what = (
            f"The log in {before.folder} {lost.how} while in use, and is left as it is. All "
            f"records up to {last} stand in {anew.writer.folder}, where the job goes on."
        )
        warning = f"The log {lost.how}. Every record is kept: the job goes on in a new log."
        if anew.for_now:
            what += " Copy that folder to a disk of yours before the computer is switched off."
            warning = (
                f"The log {lost.how}. The job goes on in a folder for now: copy it before the "
                "computer is switched off."
            )
        if anew.lacking:
            what += f" {anew.lacking} clips or photos could not be taken along."
        self._went_on = Trouble(what=what, left=str(real_path(before.folder)))
        self._warning = warning
        self.left |= {real_path(before.folder), real_path(anew.writer.folder)}
        self._moved(self.left)
        # The session can be found by its path in any case.
        with suppress(CompanionError):
            list_other_place(self.folder, self.machine)


def left_by(records: Iterable[Record]) -> set[Path]:
    """Return the folders whose logs were lost, and this one goes on in place of."""
    return {
        Path(record.event.left)
        for record in records
        if type(record.event) is Trouble and record.event.left is not None
    }
