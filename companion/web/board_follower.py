"""The session that the board shows, followed while another program works on it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from threading import Lock

from companion.errors import CompanionError
from companion.files.plain import real_path
from companion.job.events import MachineKnown, Said
from companion.job.folding.evolve import evolve
from companion.job.record import Record
from companion.job.state import State
from companion.log.finding import find_session
from companion.log.followed import followed, refuse_senseless
from companion.log.following import FollowedLog
from companion.log.identity import identity_of
from companion.log.in_use import is_live
from companion.log.live_status import SILENT_AFTER, LiveStatus, live_status
from companion.log.machine_watch import MachineWatch
from companion.log.sessions import UNSEEN, log_sign, session_folders
from companion.log.went_on import went_on_in
from companion.shelf.rules import shipped_rules
from companion.web.board_view import Board, board_of

LOOK_ON = timedelta(seconds=5)
"""How often the board looks whether a session without a program at work goes on in another log."""

LOOK_AROUND = timedelta(seconds=5)
"""How often a board that follows the shop looks for another session that runs."""

MACHINE_AGAIN = timedelta(seconds=20)
"""How often the board looks what the machine's other sessions say of it."""

RUNNING_AMONG = 8
"""How many of the sessions that were written to last are tried for one that runs."""


@dataclass(frozen=True, slots=True)
class Looked:
    """What one look brought.

    Attributes:
        session: Name of the session.
        board: What to show; None where the log cannot be used.
        trouble: The sentence that says why it cannot; empty otherwise.
    """

    session: str
    board: Board | None
    trouble: str = ""


class Follower:
    """Looks at a session again and again; cheap where nothing has changed.

    It may be asked from several threads; one look is made at a time.
    """

    def __init__(
        self,
        folder: Path | None,
        *,
        clock: Callable[[], datetime],
        folders: Callable[[], Iterable[Path]] = session_folders,
    ) -> None:
        """Begin to follow.

        Args:
            folder: The session folder; None for whichever session of the shop runs, or else was
                written to last.
            clock: Gives the shop's time.
            folders: Gives the folders of all sessions.

        Raises:
            CompanionError: If there is no session at all.
        """
        self._clock = clock
        self._folders = folders
        self._of_shop = folder is None
        self._lock = Lock()
        self._looked_around = clock()
        self._looked_on: datetime | None = None
        self._log: FollowedLog
        self._state: State | None
        self._said: Said | None
        self._trouble: str
        self._shown: tuple[object, Looked] | None
        self._opened: datetime | None
        self._machine: MachineWatch | None
        self._known: tuple[datetime, MachineKnown] | None
        self._take_up(folder or latest_session(folders))

    @property
    def folder(self) -> Path:
        """The folder of the session that is shown now."""
        return self._log.folder

    def look(self) -> Looked:
        """Return what to show now."""
        with self._lock:
            at = self._clock()
            live = live_status(self.folder)
            if live is None and self._went_on(at):
                live = live_status(self.folder)
            if live is None and self._of_shop:
                live = self._look_around(at)
            self._read()
            if self._goes_on():
                live = live_status(self.folder)
                self._read()
            return self._board(live, at)

    def _board(self, live: LiveStatus | None, at: datetime) -> Looked:
        """What to show; worked out anew where something changed, and once a minute."""
        if self._state is None:
            return Looked(self.folder.name, None, self._trouble)
        stuck = live is not None and live.sign is not None and at - live.sign > SILENT_AFTER
        mode = None if live is None else (live.mode, stuck)
        known = self._known_by_others(self._state, at)
        seen = (mode, at.replace(second=0, microsecond=0), known)
        if self._shown is None or self._shown[0] != seen:
            state = self._state
            if known is not None:
                state = evolve(state, Record(state.seq, at, known))
            try:
                with followed(self.folder):
                    board = board_of(state, live, at, self._said)
                looked = Looked(self.folder.name, board)
            except CompanionError as error:
                looked = Looked(self.folder.name, None, str(error))
            self._shown = (seen, looked)
        return self._shown[1]

    def _known_by_others(self, state: State, at: datetime) -> MachineKnown | None:
        """What other sessions of the machine say of it by now: the gate asks them when it is asked,
        and the board must not show less than it would answer."""
        if state.known is None or (
            self._known is not None and timedelta(0) <= at - self._known[0] < MACHINE_AGAIN
        ):
            return None if self._known is None else self._known[1]
        identity = identity_of(state)
        if self._machine is None and identity is not None:
            self._machine = MachineWatch(identity, self.folder, self._folders)
        if self._machine is None:
            return None
        try:
            known = self._machine.known(self._opened)
        except CompanionError:
            # The last known state is kept: what is wrong with the list is told where it is asked
            # for.
            known = state.known.event if self._known is None else self._known[1]
        self._known = (at, known)
        return known

    def _take_up(self, folder: Path) -> None:
        self._log = FollowedLog(folder)
        self._state = None
        self._said = None
        self._trouble = ""
        self._shown = None
        self._opened = None
        self._machine = None
        self._known = None

    def _read(self) -> None:
        if not self._log.has_changed():
            return
        try:
            anew, records = self._log.read()
            state = State.start(shipped_rules()) if anew or self._state is None else self._state
            said = None if anew else self._said
            if anew and records:
                self._opened = records[0].at
            for record in records:
                with followed(self._log.folder):
                    state = evolve(state, record)
                if isinstance(record.event, Said) and not record.event.goes_on:
                    said = record.event
            if anew:
                # A log of a later version, or a damaged one, may hold values that cannot be worked
                # with. The first time is enough: what follows is written by a session of this
                # version.
                refuse_senseless(self._log.folder, state)
        except CompanionError as error:
            # A log whose first line is not written yet is reported in the same way.
            self._state, self._trouble = None, str(error)
            return
        self._state, self._said, self._trouble, self._shown = state, said, "", None

    def _goes_on(self) -> bool:
        """Follow on to the job that is worked on instead of this one."""
        if self._state is None or self._state.go_on_with is None:
            return False
        with suppress(CompanionError):
            folder = find_session(self._state.go_on_with)
            if real_path(folder) != real_path(self.folder):
                self._take_up(folder)
                return True
        return False

    def _went_on(self, at: datetime) -> bool:
        """Follow on to the log that the session goes on in, where this one was lost."""
        if self._looked_on is not None and timedelta(0) <= at - self._looked_on < LOOK_ON:
            return False
        self._looked_on = at
        further = went_on_in(self.folder)
        if further is None:
            return False
        self._take_up(further)
        return True

    def _look_around(self, at: datetime) -> LiveStatus | None:
        if timedelta(0) <= at - self._looked_around < LOOK_AROUND:
            return None
        self._looked_around = at
        with suppress(CompanionError):
            latest = latest_session(self._folders)
            live = live_status(latest)
            if live is not None and latest != self.folder:
                self._take_up(latest)
            return live
        return None


def latest_session(folders: Callable[[], Iterable[Path]] = session_folders) -> Path:
    """Return the session that runs, or else was written to last.

    Raises:
        CompanionError: If there is none.
    """
    written = []
    for folder in folders():
        sign = log_sign(str(folder))
        if sign is not None and sign != UNSEEN:
            written.append((sign[1], folder))
    written.sort(reverse=True)
    latest = [folder for _, folder in written[:RUNNING_AMONG]]
    for folder in latest:
        if is_live(folder):
            return folder
    # With no session, the sentence that says so.
    return latest[0] if latest else find_session(None)
