"""What the index finds: sessions, machines and words, as values."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Generic, Literal, TypeVar

Row = TypeVar("Row")

Status = Literal["open", "parked", "closed", "unreadable"]


@dataclass(frozen=True, slots=True)
class Found(Generic[Row]):
    """Some of what was found.

    Attributes:
        rows: Those asked for, in order.
        total: How many there are in all.
    """

    rows: tuple[Row, ...]
    total: int


@dataclass(frozen=True, slots=True)
class SessionRow:
    """A session as a list shows it.

    Attributes:
        folder: The session folder.
        name: Of the folder.
        status: ``unreadable`` where the log cannot be used.
        why: The sentence that says so; None where it can.
        opened: When it began; None where that is not known, as with all that follow.
        last: When its last record was written.
        records: How many there are.
        machine: What the machine is called.
        machine_key: What its page is called.
        serial: Its serial number.
        job: Title of the card.
        tags: That hung when it ended and still hang on its machine.
        tags_down: That hung when it ended, and came down in another session since.
        invented: Whether the machine's figures are made up.
        size: Of the log and its clips, in bytes.
        archived: Whether it was put away: out of the daily list.
    """

    folder: Path
    name: str
    status: Status
    why: str | None = None
    opened: datetime | None = None
    last: datetime | None = None
    records: int = 0
    machine: str | None = None
    machine_key: str | None = None
    serial: str | None = None
    job: str | None = None
    tags: tuple[str, ...] = ()
    tags_down: tuple[str, ...] = ()
    invented: bool = False
    size: int = 0
    archived: bool = False


@dataclass(frozen=True, slots=True)
class MachineRow:
    """A machine as a list shows it.

    Attributes:
        key: What its page is called: letters, digits, ``-``, and ``_`` before a serial number.
        name: What it is called.
        serial: Its serial number, where one is known.
        sessions: How many there are.
        unfinished: How many of them are not closed.
        last: When it was last worked on.
        invented: Whether its figures are made up.
        standing: Why it must not be started: tags, then parts that are off, open or unfit.
        still_open: How many follow-ups and needed parts are open.
    """

    key: str
    name: str
    serial: str | None
    sessions: int
    unfinished: int
    last: datetime
    invented: bool
    standing: tuple[str, ...]
    still_open: int


@dataclass(frozen=True, slots=True)
class Hit:
    """Words that were found in a session.

    Attributes:
        session: Where.
        record: Number of the record there.
        at: When it was said.
        who: ``heard`` or ``note``, or ``said`` for what the companion answered.
        snippet: The words around, in pieces, each with whether it was looked for.
    """

    session: SessionRow
    record: int
    at: datetime
    who: Literal["heard", "note", "said"]
    snippet: tuple[tuple[str, bool], ...]

    @property
    def words(self) -> str:
        """The snippet as plain text."""
        return "".join(text for text, _ in self.snippet)
