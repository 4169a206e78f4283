"""How a machine stands by all its logs: which sessions are of it, and what they say together."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from companion.errors import CompanionError
from companion.files.plain import real_path
from companion.job.events import MachineKnown
from companion.job.known_of_machine import OtherSession, machine_known
from companion.log.identity import Identity, SeveralMachines, may_be_of, serial_key
from companion.log.names import same_machine, slug
from companion.log.sessions import UNSEEN, gone_sessions, log_sign, session_folders
from companion.log.summaries import SessionSummary, machine_of, summarize
from companion.shelf.rules import shipped_rules


@dataclass(frozen=True, slots=True)
class _Found:
    """A session folder that is, or may be, of the machine; ``summary`` None where it is unread."""

    folder: Path
    identity: Identity
    opened: datetime | None
    summary: SessionSummary | None


class MachineWatch:
    """Knows how a machine stands by its other sessions, and looks again when asked.

    Args:
        identity: Which machine.
        own: Folder of the session that this is for, which is left out; it need not exist yet.
        folders: Gives the folders of all sessions; those of the shop if left out.
        before: Only sessions opened before this count, where what was heard is replayed.
        gone: Gives the folders of sessions that are gone, each with its machine.
    """

    def __init__(
        self,
        identity: Identity,
        own: Path,
        folders: Callable[[], Iterable[Path]] = session_folders,
        before: datetime | None = None,
        gone: Callable[[], dict[Path, str]] = gone_sessions,
    ) -> None:
        self.identity = identity
        self._own = {real_path(own)}
        self._folders = folders
        self._before = before
        self._gone = gone
        self._summaries: dict[Path, tuple[tuple[int, int], _Found | None]] = {}

    def leave_out(self, folder: Path) -> None:
        """Count this folder as the session's own: it went on elsewhere."""
        self._own.add(real_path(folder))

    def known(self, opened: datetime | None = None) -> MachineKnown:
        """Return what the other sessions of the machine say now.

        Args:
            opened: When this session was opened, where it goes on; None for a new one.

        Raises:
            SeveralMachines: If several machines go by this name and no serial number tells which.
        """
        found = self._of_machine()
        readable = [
            OtherSession(
                each.folder.name, each.summary.opened, each.summary.last, each.summary.state
            )
            for each in found
            if each.summary is not None
        ]
        unread = sorted(each.folder.name for each in found if each.summary is None)
        unread += sorted(
            folder.name
            for folder, machine in self._gone().items()
            if real_path(folder) not in self._own
            and (same_machine(machine, self.identity.name) or machine == slug(self.identity.name))
        )
        return machine_known(readable, shipped_rules(), opened=opened, unread=unread)

    def namesakes(self) -> tuple[str, ...]:
        """Return the names of other machines that claim the same serial number."""
        names = {
            each.identity.name
            for each in self._all()
            if each.identity.same_serial(self.identity)
            and not same_machine(each.identity.name, self.identity.name)
        }
        return tuple(sorted(names))

    def _of_machine(self) -> list[_Found]:
        named = [
            each for each in self._all() if same_machine(each.identity.name, self.identity.name)
        ]
        if self.identity.serial is not None:
            # A session without a serial number may be of this machine: it counts.
            return [
                each
                for each in named
                if each.identity.serial is None or each.identity.same_serial(self.identity)
            ]
        serials = {
            serial_key(each.identity.serial): each.identity.serial
            for each in named
            if each.identity.serial is not None
        }
        if len(serials) > 1:
            listed = " and ".join(str(serial) for serial in sorted(serials.values(), key=str))
            raise SeveralMachines(
                f"Several machines go by the name '{self.identity.name}', with the serial numbers "
                f"{listed}; say which it is with --serial, or give it a name with --name."
            )
        return named

    def _all(self) -> list[_Found]:
        found = []
        try:
            folders = list(self._folders())
        except CompanionError:
            # A job must open even where the list cannot be read; that is reported elsewhere.
            return []
        for folder in folders:
            if real_path(folder) in self._own:
                continue
            each = self._look(folder)
            if each is None:
                continue
            if self._before is None or each.opened is None or each.opened < self._before:
                found.append(each)
        return found

    def _look(self, folder: Path) -> _Found | None:
        """A session, read anew only where its log has changed; None where it is of no machine."""
        sign = log_sign(str(folder)) or UNSEEN
        before = self._summaries.get(folder)
        if before is None or before[0] != sign:
            self._summaries[folder] = (sign, self._read(folder))
        return self._summaries[folder][1]

    def _read(self, folder: Path) -> _Found | None:
        opened = machine_of(folder)
        if opened is None:
            mine = may_be_of(folder, self.identity)
            return _Found(folder, self.identity, None, None) if mine else None
        identity, at = opened
        if identity is None:
            return None
        related = same_machine(identity.name, self.identity.name)
        if not related and not identity.same_serial(self.identity):
            # Of another machine: nothing more of it needs to be read.
            return None
        try:
            summary = summarize(folder)
        except CompanionError:
            return _Found(folder, identity, at, None)
        serial = summary.state.serial or identity.serial
        return _Found(folder, Identity(identity.name, serial), at, summary)
