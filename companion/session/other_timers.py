"""Timers of jobs that were put aside: they ring at the bench of whatever job is worked on now.

The logs of the other sessions are only read. One is opened for writing at the moment when its timer
is acknowledged, for that one record, and closed again; a program that works at that session takes
the record in, and is quiet too.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

from companion.errors import CompanionError
from companion.job.events import ElsewhereRang, TimerAcknowledged
from companion.job.folding.evolve import evolve
from companion.job.state import State
from companion.job.state_values import Timer
from companion.job.timers import next_ring
from companion.log.followed import followed, refuse_senseless, state_of
from companion.log.following import FollowedLog
from companion.log.reader import log_bytes, read_log
from companion.log.sessions import log_sign, session_folders
from companion.log.writer import LogWriter

LOOK_AGAIN = timedelta(seconds=10)
"""How often the folder is looked through for logs that are new or have grown."""

FORGOTTEN = timedelta(days=14)
"""Timers that are overdue by more no longer ring: nobody waits for them, and resuming their job
reports them."""

OTHERS_PATIENCE_SECONDS = 1.0
"""Seconds to wait for another log, since somebody waits for an answer meanwhile."""

LOGS_AT_ONCE = 50
"""How many logs one call looks at, at most, so that many years of logs are gone through while the
work goes on."""

FOLLOWED = 8
"""Logs kept folded at most, the latest read: one that another bench writes to is read on from where
it was read last."""

_STARTS = b'"timer.started"'
"""Bytes that every log with a timer holds; other logs need not be folded."""


@dataclass(frozen=True, slots=True)
class Watched:
    """A timer of another session.

    Attributes:
        folder: The session folder.
        machine: Its machine, as it is named aloud.
        timer: How it stands; rings that were made here are counted here only.
    """

    folder: Path
    machine: str
    timer: Timer

    @property
    def rings(self) -> bool:
        """Whether it has rung here and was not acknowledged."""
        return self.timer.rang is not None


class OtherTimers:
    """Watches the timers of the other sessions.

    Args:
        own: The folder of the session that is worked on, which is left out.
        folders: Gives the folders of all sessions; those of the data folder if left out.
    """

    def __init__(self, own: Path, folders: Callable[[], Iterable[Path]] = session_folders) -> None:
        self._own = {_identity(own)}
        self._folders = folders
        self._looked: datetime | None = None
        self._seen: dict[Path, tuple[int, int]] = {}
        self._waiting: list[Path] = []
        self._followed: dict[Path, tuple[FollowedLog, State | None]] = {}
        self._timers: dict[tuple[Path, int], Watched] = {}

    def leave_out(self, folder: Path) -> None:
        """Ring no timers of this folder either: it is where this session was before."""
        self._own.add(_identity(folder))
        self._timers = {
            key: watched
            for key, watched in self._timers.items()
            if _identity(watched.folder) not in self._own
        }

    def ring(self, at: datetime) -> ElsewhereRang | None:
        """Return the ring that is due by now, if any; it counts as made.

        At most one log is folded at a call, and few are glanced at, so that nobody waits at the
        bench for a long list of them.
        """
        self._look(at)
        late = sorted(
            (next_ring(watched.timer), key)
            for key, watched in self._timers.items()
            if next_ring(watched.timer) <= at and at - watched.timer.due <= FORGOTTEN
        )
        if not late:
            return None
        _, key = late[0]
        watched = self._timers[key]
        rung = replace(watched.timer, rings=watched.timer.rings + 1, rang=at)
        self._timers[key] = replace(watched, timer=rung)
        return ElsewhereRang(
            session=watched.folder.name,
            machine=watched.machine,
            name=rung.name,
            count=rung.rings,
        )

    def acknowledge(self, at: datetime) -> tuple[tuple[Watched, bool], ...]:
        """Quiet every timer that rings, and put that into its own log.

        Returns:
            Each of them, and whether its own log has it now: not where that log cannot be written,
            or another program does not let go of it.
        """
        quieted = []
        for key, watched in list(self._timers.items()):
            if watched.rings:
                del self._timers[key]
                quieted.append((watched, _record(watched, at)))
        return tuple(quieted)

    def _look(self, at: datetime) -> None:
        if self._looked is None or not timedelta(0) <= at - self._looked < LOOK_AGAIN:
            self._looked = at
            changed = self._changed()
            again = set(changed)
            # What changed just now comes first, and what was still to be read after it.
            self._waiting = [*(f for f in self._waiting if f not in again), *reversed(changed)]
        for _ in range(LOGS_AT_ONCE):
            # A log without timers is quickly passed; of those that have to be folded, one a call is
            # enough.
            if not self._waiting or self._read(self._waiting.pop()):
                return

    def _changed(self) -> list[Path]:
        """Logs that are new or were written to since they were read, the latest first."""
        found = []
        try:
            folders = list(self._folders())
        except CompanionError:
            return []
        for folder in folders:
            sign = log_sign(str(folder))
            if sign is None or self._seen.get(folder) == sign:
                continue
            self._seen[folder] = sign
            # Asked only now, since most of thousands of folders have not changed.
            if _identity(folder) not in self._own:
                found.append((sign[1], folder))
        return [folder for _, folder in sorted(found, reverse=True)]

    def _state(self, folder: Path) -> State:
        """The fold of a log, continued from where it was read last."""
        log, state = self._followed.pop(folder, (FollowedLog(folder), None))
        anew, records = log.read()
        if anew or state is None:
            state = state_of(folder, records)
        else:
            with followed(folder):
                for record in records:
                    state = evolve(state, record)
        self._followed[folder] = (log, state)
        while len(self._followed) > FOLLOWED:
            self._followed.pop(next(iter(self._followed)))
        return state

    def _read(self, folder: Path) -> bool:
        """Take in how the timers of a log stand; return whether the log had to be folded."""
        before = {key: each for key, each in self._timers.items() if key[0] == folder}
        try:
            is_followed = bool(before) or folder in self._followed
            if not is_followed and _STARTS not in log_bytes(folder):
                return False
            state = self._state(folder)
            refuse_senseless(folder, state)
        except CompanionError:
            # A damaged log is reported where its session is asked for.
            return False
        for key in before:
            del self._timers[key]
        if state.closed:
            return True
        for timer in state.timers.values():
            known = before.get((folder, timer.seq))
            # Rings made here count as made; those in the log were made by the program that had it
            # then.
            self._timers[folder, timer.seq] = Watched(
                folder,
                _machine(state, folder),
                known.timer if known is not None and known.rings else _unrung(timer),
            )
        return True


def _identity(folder: Path) -> tuple[int, int] | None:
    """What a folder is told apart by, whatever name leads to it; None where it is not there."""
    try:
        entry = folder.stat()
    except OSError:
        return None
    return entry.st_dev, entry.st_ino


def _unrung(timer: Timer) -> Timer:
    return replace(timer, rings=0, rang=None)


def _machine(state: State, folder: Path) -> str:
    if state.sheet is not None:
        return state.sheet.name
    return state.card.title if state.card is not None else f"session {folder.name}"


def _record(watched: Watched, at: datetime) -> bool:
    """Append the acknowledgement to the other log, unless the timer is gone there already."""
    try:
        with (
            LogWriter.beside(watched.folder, OTHERS_PATIENCE_SECONDS) as writer,
            writer.turn(OTHERS_PATIENCE_SECONDS),
        ):
            state = state_of(watched.folder, read_log(watched.folder).records)
            timer = state.timers.get(watched.timer.name)
            if timer is not None and timer.seq == watched.timer.seq:
                writer.append([TimerAcknowledged(name=timer.name)], at)
    except CompanionError:
        return False
    return True
