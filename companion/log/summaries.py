"""A short summary of a session, folded from its log."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Literal

from companion.errors import CompanionError
from companion.job.dangers import dangers
from companion.job.known_of_machine import OtherSession, machine_known, state_by_all
from companion.job.record import Record, worked_until
from companion.job.state import State
from companion.log.followed import followed, refuse_senseless, state_of
from companion.log.identity import Identity, identity_of, opened_of
from companion.log.reader import read_log
from companion.log.sessions import session_folders
from companion.shelf.rules import shipped_rules


@dataclass(frozen=True, slots=True)
class SessionSummary:
    """One session, folded from its log.

    Attributes:
        folder: The session folder.
        opened: When it began.
        last: When it was last worked on.
        status: ``open`` until it is parked or closed.
        state: All the rest.
        records: How many there are.
    """

    folder: Path
    opened: datetime
    last: datetime
    status: Literal["open", "parked", "closed"]
    state: State
    records: int

    @property
    def machine(self) -> str | None:
        """What the machine is called, or None where nothing says which it is."""
        return self.state.machine

    @property
    def job(self) -> str | None:
        """Title of the job card, or None."""
        return self.state.card.title if self.state.card else None


@dataclass(frozen=True, slots=True)
class UnreadableSession:
    """A session folder whose log cannot be used; ``why`` is the sentence that says so."""

    folder: Path
    why: str


def list_sessions() -> tuple[SessionSummary | UnreadableSession, ...]:
    """Return every session in the data folder, the latest first; unreadable ones stand last.

    Raises:
        CompanionError: If the folder itself cannot be read.
    """
    found: list[SessionSummary] = []
    unreadable: list[UnreadableSession] = []
    for folder in session_folders():
        try:
            found.append(summarize(folder))
        except CompanionError as error:
            unreadable.append(UnreadableSession(folder, str(error)))
    found.sort(key=lambda summary: summary.last, reverse=True)
    return (*found, *unreadable)


def summarize(folder: Path) -> SessionSummary:
    """Fold one session.

    Raises:
        CompanionError: As ``read_log``.
    """
    return summary_of(folder, read_log(folder).records)


def summary_of(folder: Path, records: tuple[Record, ...]) -> SessionSummary:
    """Fold the records of a session.

    Raises:
        CompanionError: If the card or sheet kept in the log cannot be read by this version, or its
            records cannot be followed.
    """
    state = state_of(folder, records)
    refuse_senseless(folder, state)
    with followed(folder):
        summary = SessionSummary(
            folder=folder,
            opened=records[0].at,
            last=worked_until(records),
            status="closed" if state.closed else "parked" if state.parked else "open",
            state=state,
            records=len(records),
        )
        # Checks that the session can be folded together with the machine's others.
        alone = OtherSession(folder.name, summary.opened, summary.last, state)
        dangers(state_by_all([alone], machine_known([alone], shipped_rules())))
        return summary


def machine_of(folder: Path) -> tuple[Identity | None, datetime] | None:
    """Return the machine of a session, None where nothing says which it is, and when it was opened;
    None where that cannot be read.

    The first line tells; of a session that was opened without its machine the whole log is read,
    for that may have been called later.
    """
    opened = opened_of(folder)
    if opened is None or opened[0] is not None:
        return opened
    try:
        return identity_of(summarize(folder).state), opened[1]
    except CompanionError:
        return opened
