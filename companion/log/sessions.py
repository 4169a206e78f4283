"""Where the sessions of a shop are, what they are called, and what can be said of each at a
glance."""

from __future__ import annotations

import hashlib
import os
import re
import stat
import unicodedata
from collections.abc import Container
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Literal

from companion.errors import CompanionError
from companion.files.plain import NOT_THERE, real_path, stands_there
from companion.job.dangers import dangers
from companion.job.known_of_machine import OtherSession, machine_known, state_by_all
from companion.job.record import Record, worked_until
from companion.job.state import State
from companion.log.clips import CLIP_FOLDER
from companion.log.data import DATA_VARIABLE, data_folder
from companion.log.followed import followed, refuse_senseless, state_of
from companion.log.line import LOG_NAME
from companion.log.other_places import elsewhere, gone
from companion.log.reader import read_log
from companion.log.tip import TIP_NAME
from companion.log.went_on import left_logs
from companion.shelf.rules import shipped_rules

MADE_NAME = re.compile(r"^\d{4}-\d{2}-\d{2}-\d{4}-|-\d{1,2}$")
"""What ``new_session_folder`` puts around the name of a machine."""

MOST_OF_NAME = 60
"""Characters of a name that go into the name of a folder, or into a key."""
HASH_OF_NAME = 10
"""Characters of a hash in a key."""

LogSign = tuple[int, int]
"""Size of a log in bytes and when it was last written, in nanoseconds: changed when it was."""

UNSEEN: LogSign = (-1, -1)
"""Sign of a log that may be there and cannot be looked at, or is something else than a file."""


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
        """What the machine is called, or None where it has neither a name nor a spec sheet."""
        sheet = self.state.sheet
        return self.state.machine_name or (sheet.name if sheet is not None else None)

    @property
    def job(self) -> str | None:
        """Title of the job card, or None."""
        return self.state.card.title if self.state.card else None


@dataclass(frozen=True, slots=True)
class UnreadableSession:
    """A session folder whose log cannot be used; ``why`` is the sentence that says so."""

    folder: Path
    why: str


def sessions_folder() -> Path:
    """Return the folder in the data folder that the session folders stand in."""
    return data_folder() / "sessions"


def new_session_folder(at: datetime, machine: str) -> Path:
    """Return the path for a new session, such as ``2026-03-04-0915-garden-tiller``; none is made.

    Args:
        at: When it begins.
        machine: Name of the machine, or any other word to know it by.
    """
    return free_folder(sessions_folder() / f"{at:%Y-%m-%d-%H%M}-{slug(machine)}")


def free_folder(folder: Path) -> Path:
    """Return this path, or the same with ``-2``, ``-3`` … where a session is there already."""
    free, turn = folder, 1
    while stands_there(free / LOG_NAME) or stands_there(free / TIP_NAME):
        if not os.path.lexists(free):
            # No name can be looked at here, so none is free: whoever makes the folder says why.
            return free
        turn += 1
        free = folder.with_name(f"{folder.name}-{turn}")
    return free


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
        # Whether it can be told of its machine, before it is told together with all the others.
        alone = OtherSession(folder.name, summary.opened, summary.last, state)
        dangers(state_by_all([alone], machine_known([alone], shipped_rules())))
        return summary


def find_session(name: str | Path | None = None, *, unfinished: bool = False) -> Path:
    """Return the folder of a session.

    Args:
        name: A path to a session folder or its log, or the name of one in the data folder, whole
            or as much as makes it the only one. None: the latest.
        unfinished: With no name, pass over sessions that were closed.

    Raises:
        CompanionError: If there is none, or more than one answers to the name.
    """
    if name is None:
        return _latest(unfinished=unfinished)
    path = Path(name)
    # What is there and cannot be read is meant all the same: reading it tells what is wrong.
    if path.name == LOG_NAME and stands_there(path):
        return path.parent
    if log_sign(str(path)) is not None:
        return path
    folders = session_folders()
    exact = [folder for folder in folders if folder.name == str(name)]
    partly = [folder for folder in folders if str(name) in folder.name]
    if len(exact or partly) == 1:
        return (exact or partly)[0]
    if partly:
        several = exact or partly
        by_path = len({folder.name for folder in several}) < len(several)
        names = ", ".join(str(folder) if by_path else folder.name for folder in several)
        raise CompanionError(
            f"'{name}' is the name of several sessions, or part of it; name one of {names}."
        )
    raise CompanionError(
        f"There is no session '{name}', neither as a folder with a {LOG_NAME} nor in "
        f"{sessions_folder()}; 'companion sessions' lists those there are."
    )


def same_machine(one: str, other: str) -> bool:
    """Whether two names mean one machine: letters and digits of any alphabet count, case and the
    rest do not."""
    return name_key(one) == name_key(other)


def name_key(name: str) -> str:
    """Return what a name is told apart by: letters, digits and single hyphens only, as ``slug``; of
    a name in other letters, or a longer one, a hash of it keeps it apart from others.

    The key of a key is that key.
    """
    letters = re.sub(r"[\W_]+", "-", unicodedata.normalize("NFKC", name).casefold()).strip("-")
    if letters.isascii() and 0 < len(letters) <= MOST_OF_NAME:
        return letters
    counts = letters or "".join(name.split())
    digest = hashlib.sha256(counts.encode(errors="replace")).hexdigest()[:HASH_OF_NAME]
    return f"{slug(letters)[: MOST_OF_NAME - HASH_OF_NAME - 1].strip('-')}-{digest}"


def _latest(*, unfinished: bool) -> Path:
    # The index is made from what is here.
    from companion.log.index import SessionIndex

    unread = 0
    with SessionIndex() as index:
        for session in index.sessions(limit=None).rows:
            unread += session.status == "unreadable"
            if session.status != "unreadable" and not (unfinished and session.status == "closed"):
                return session.folder
    kind = "unfinished session" if unfinished else "session"
    if unread:
        # Perhaps it is one of them.
        raise CompanionError(
            f"There is no {kind} that can be read in {sessions_folder()}, and {unread} that "
            "cannot; 'companion sessions' says why of each."
        )
    raise CompanionError(
        f"There is no {kind} in {sessions_folder()}; name a session folder, or start a session "
        "with 'companion work'."
    )


def session_folders() -> list[Path]:
    """Return every session folder of the shop: those in the data folder, then those that were put
    elsewhere and are still there.

    Raises:
        CompanionError: If the data folder cannot be read.
    """
    return [Path(folder) for folder in session_logs()]


def session_logs(data: Path | None = None) -> dict[str, LogSign]:
    """Return the same as paths, each with the size of its log and when that was last written.

    Args:
        data: The data folder; that of this user if left out.

    Raises:
        CompanionError: If the data folder cannot be read.
    """
    base = (data_folder() if data is None else data) / "sessions"
    found: dict[str, LogSign] = {}
    try:
        with os.scandir(base) as entries:
            inside = {entry.name: entry.is_symlink() for entry in entries}
    except FileNotFoundError:
        inside = {}
    except OSError as error:
        raise CompanionError(
            f"The sessions in {base} cannot be listed ({error.strerror}); check the folder and its "
            f"permissions, or set {DATA_VARIABLE} to another folder."
        ) from None
    # Thousands of them are looked at whenever the sessions are listed: no Path is made for each.
    above = os.path.join(base, "")
    for name in sorted(inside):
        folder = f"{above}{name}"
        sign = log_sign(folder)
        if sign is not None:
            found[folder] = sign
    linked = {real_path(base / name) for name, is_link in inside.items() if is_link}
    for outside in elsewhere(base.parent):
        sign = log_sign(str(outside))
        if sign is not None and real_path(outside) not in linked:
            found[str(outside)] = sign
    # What went on in another log is that one.
    for left in left_logs(found):
        found.pop(left, None)
    return found


def log_sign(folder: str) -> LogSign | None:
    """Return size and time of a session's log; None where the folder has none.

    ``UNSEEN`` where it cannot be looked at, or something else has its name: a session that nobody
    can read is told of, and not left out.
    """
    try:
        entry = os.lstat(f"{folder}{os.sep}{LOG_NAME}")
    except ValueError:
        return None
    except OSError as error:
        return None if error.errno in NOT_THERE else UNSEEN
    return (entry.st_size, entry.st_mtime_ns) if stat.S_ISREG(entry.st_mode) else UNSEEN


def gone_sessions(data: Path | None = None, logs: Container[str] = ()) -> dict[Path, str]:
    """Return the session folders whose log is gone, each with its machine: those that were put
    elsewhere, by the shop's list, and those in the data folder, by their names.

    Args:
        data: The data folder; that of this user if left out.
        logs: Folders that were just seen to have their log; they need not be looked at again.
    """
    data = data_folder() if data is None else data
    found = gone(data)
    above = os.path.join(data, "sessions", "")
    try:
        inside = sorted(os.listdir(above))
    except OSError:
        inside = []
    # Thousands of them are looked at: no Path is made for each.
    for name in inside:
        if f"{above}{name}" in logs:
            continue
        if not stands_there(f"{above}{name}{os.sep}{LOG_NAME}") and any(
            os.path.exists(f"{above}{name}{os.sep}{left}") for left in (TIP_NAME, CLIP_FOLDER)
        ):
            found[Path(above, name)] = MADE_NAME.sub("", name)
    if found:
        went_on = {real_path(Path(each)) for each in left_logs(session_logs(data))}
        found = {each: name for each, name in found.items() if real_path(each) not in went_on}
    return found


def slug(text: str) -> str:
    """Return letters, digits and single hyphens only: a file name on every system."""
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")[:MOST_OF_NAME].strip("-") or "job"
