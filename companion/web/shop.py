"""The sessions that pages may show, and how they stand now."""

from __future__ import annotations

import hashlib
import os
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from companion.errors import CompanionError
from companion.job import events as ev
from companion.job.record import Record
from companion.job.state import State
from companion.log.folded import folded_log
from companion.log.followed import followed
from companion.log.index import SessionIndex
from companion.log.names import slug
from companion.log.sessions import LogSign, log_sign, session_logs
from companion.web.timeline import Turn, turns_of

VIEWS_KEPT = 6
"""Sessions kept as they were read last; one of a thousand calls takes some megabytes."""

INDEX_FRESH = 60.0
"""Seconds for which the index does not look at the logs by itself: each page makes it look once."""


class NoSession(CompanionError):
    """A page was asked for of a session that is not there."""


@dataclass(frozen=True)
class View:
    """A session as it stands.

    Attributes:
        folder: The session folder.
        key: What its page is called.
        sign: Of its log, when it was read.
        records: All of them.
        state: Their fold.
        turns: Call by call.
        recovered: What was wrong at the end of its log, or None.
    """

    folder: Path
    key: str
    sign: LogSign
    records: tuple[Record, ...]
    state: State
    turns: tuple[Turn, ...]
    recovered: str | None

    @property
    def last(self) -> int:
        """Number of the last record."""
        return self.records[-1].seq

    @cached_property
    def turn_of(self) -> dict[int, Turn]:
        """By number of a record, the turn that it is told in."""
        return {seq: turn for turn in self.turns for seq in turn.seqs}

    def call(self, seq: int) -> Turn | None:
        """Return the call that a record belongs to; None where no call brought it."""
        turn = self.turn_of.get(seq)
        return turn if turn is not None and turn.heard is not None else None

    def touched_since(self, last: int) -> tuple[Turn, ...]:
        """Return the turns that records after this one are about, in order."""
        numbers: set[int] = set()
        for record in self.records[max(last, 0) :]:
            event = record.event
            numbers.add(record.seq)
            if isinstance(event, ev.Disregarded):
                numbers |= {event.record, *([event.restores] if event.restores else [])}
            elif isinstance(event, ev.Reviewed):
                numbers.add(event.record)
            elif isinstance(event, ev.Correctable) and event.corrects is not None:
                numbers.add(event.corrects)
        found = {turn.seq: turn for turn in map(self.turn_of.get, numbers) if turn is not None}
        return tuple(found[seq] for seq in sorted(found))


class Shop:
    """Finds sessions by what their pages are called, and reads them when they changed."""

    def __init__(self, besides: Sequence[Path] = ()) -> None:
        """Open the index and begin to bring it up to date.

        Args:
            besides: Session folders to be shown that may be on no list.
        """
        self._folders = {key_of(folder): Path(folder) for folder in besides}
        self._views: dict[Path, View] = {}
        self._lock = threading.Lock()
        self._read = (0, 0)
        self.index = SessionIndex(fresh_for=INDEX_FRESH, progress=self._count)
        self._filling = threading.Thread(target=self._fill, name="index", daemon=True)
        self._filling.start()

    def close(self) -> None:
        """Close the index; one that is still being made is left to end with the program."""
        if not self._filling.is_alive():
            self.index.close()

    def being_read(self, patience: float = 0.0) -> tuple[int, int] | None:
        """Bring the index up to date; while it is still at it for the first time, return how many
        of how many logs it has read.

        Args:
            patience: Seconds to wait for it first.

        Raises:
            CompanionError: If the sessions cannot be listed.
        """
        self._filling.join(patience)
        if self._filling.is_alive():
            return self._read
        self.index.refresh()
        return None

    def folder(self, key: str) -> Path:
        """Return the session folder of a page.

        Raises:
            NoSession: If there is none.
            CompanionError: If the sessions cannot be listed.
        """
        if key not in self._folders:
            for name in session_logs():
                self._folders[key_of(name)] = Path(name)
        folder = self._folders.get(key)
        if folder is None:
            raise NoSession("There is no such session; it may have been moved or renamed.")
        return folder

    def view(self, key: str) -> View:
        """Return a session as it stands now.

        Raises:
            NoSession: If there is none.
            CompanionError: As ``folded_log``.
        """
        folder = self.folder(key)
        sign = log_sign(str(folder))
        with self._lock:
            kept = self._views.get(folder)
            if kept is not None and kept.sign == sign:
                return kept
        if sign is None:
            raise NoSession(
                f"The session {folder.name} is not there any more; bring its folder back."
            )
        contents = folded_log(folder)
        state = contents.state
        with followed(folder):
            made = View(
                folder=folder,
                key=key,
                sign=sign,
                records=contents.records,
                state=state,
                turns=turns_of(folder, contents.records, state),
                recovered=contents.recovered,
            )
        with self._lock:
            self._views.pop(folder, None)
            self._views[folder] = made
            while len(self._views) > VIEWS_KEPT:
                self._views.pop(next(iter(self._views)))
        return made

    def _fill(self) -> None:
        try:
            self.index.refresh()
        except CompanionError:
            # The list reports it when it is asked for.
            return

    def _count(self, done: int, of: int) -> None:
        self._read = (done, of)


def key_of(folder: Path | str) -> str:
    """Return what the page of a session is called: two of one name have two keys."""
    path = os.path.abspath(folder)
    digest = hashlib.sha256(path.encode("utf-8", "surrogateescape")).hexdigest()[:8]
    return f"{slug(os.path.basename(path))}-{digest}"
