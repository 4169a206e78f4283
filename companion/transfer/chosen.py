"""Which sessions are meant, by name, machine and day."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from companion.errors import CompanionError, WrongUse
from companion.files.plain import real_path
from companion.job.record import Record
from companion.log.finding import find_session
from companion.log.names import same_machine
from companion.log.reader import first_line
from companion.log.sessions import session_folders, sessions_folder
from companion.log.summaries import machine_of
from companion.shelf.load import load_sheet
from companion.shelf.own import is_sheet, sheet_named


def _untold(done: int, of: int) -> None:
    """Nobody waits."""


@dataclass(frozen=True, slots=True)
class Chosen:
    """Which sessions are meant.

    Attributes:
        folders: Of the sessions by name and machine.
        since: Only those count in which something was recorded on this day or later.
        progress: Told how many of how many are read.
    """

    folders: tuple[Path, ...]
    since: date | None = None
    progress: Callable[[int, int], None] = _untold

    def one_by_one(self) -> Iterator[Path]:
        """Yield the folders, and tell how far it is."""
        for number, folder in enumerate(self.folders):
            self.progress(number, len(self.folders))
            yield folder
        self.progress(len(self.folders), len(self.folders))

    def recent(self, records: Sequence[Record]) -> bool:
        """Whether a session is recent enough; days are those of the shop's own clock."""
        return self.since is None or any(record.at.date() >= self.since for record in records)


def choose(
    sessions: Sequence[str] = (), machine: str | None = None, since: str | None = None
) -> Chosen:
    """Return the sessions that are meant; all of the shop where nothing is said.

    Args:
        sessions: Names or folders, as ``find_session`` takes them.
        machine: Name of a machine, or its spec sheet.
        since: A day, as 2026-03-01.

    Raises:
        WrongUse: If that is no day.
        CompanionError: If a session or machine is unknown, or there is no session at all.
    """
    day = _day(since)
    if sessions:
        named = {real_path(folder): folder for folder in map(find_session, sessions)}
        folders = list(named.values())
    else:
        folders = session_folders()
    if not folders:
        raise CompanionError(
            f"There is no session in {sessions_folder()}; start one with 'companion work'."
        )
    if machine is not None:
        folders = _of_machine(folders, machine)
    return Chosen(tuple(folders), day)


def _day(text: str | None) -> date | None:
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise WrongUse(f"'{text}' is no day; write it as 2026-03-01.") from None


def _of_machine(folders: Sequence[Path], machine: str) -> list[Path]:
    if is_sheet(machine):
        machine = load_sheet(sheet_named(machine)).name
    names = {folder: _machines(folder) for folder in folders}
    its = [
        folder
        for folder, called in names.items()
        if any(same_machine(name, machine) for name in called)
    ]
    if not its:
        known = sorted({name for called in names.values() for name in called})
        there = f"; there are sessions of {', '.join(known)}" if known else ""
        raise CompanionError(f"There is no session of a machine named '{machine}'{there}.")
    return its


def _machines(folder: Path) -> tuple[str, ...]:
    """What the machine of a session is called and what its sheet calls it, by the first line,
    else by its calls."""
    try:
        data = json.loads(first_line(folder))["data"]
        names = (data.get("machine_name"), (data.get("machine") or {}).get("name"))
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return ()
    found = tuple(dict.fromkeys(name for name in names if isinstance(name, str)))
    if found:
        return found
    # It may have been named by a call.
    machine = machine_of(folder)
    return () if machine is None or machine[0] is None else (machine[0].name,)
