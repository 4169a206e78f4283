"""What a machine read and took in all its sessions."""

from __future__ import annotations

from decimal import Decimal

from companion.errors import CompanionError
from companion.job.state import State
from companion.log.sessions import (
    SessionSummary,
    UnreadableSession,
    list_sessions,
    same_machine,
)
from companion.log.show import quantity, verdict_words


def history_lines(machine: str) -> list[str]:
    """Return lines about every session of a machine, the latest first; only what still counts.

    Args:
        machine: Its name; case and punctuation do not matter.

    Raises:
        CompanionError: If there is no session of such a machine.
    """
    sessions = list_sessions()
    readable = [session for session in sessions if isinstance(session, SessionSummary)]
    lines: list[str] = []
    for session in readable:
        if session.machine is not None and same_machine(session.machine, machine):
            about = f"{session.job}, {session.status}" if session.job else session.status
            lines.append(f"{session.opened:%Y-%m-%d}  {about}  ({session.folder.name})")
            lines += [f"    {line}" for line in _facts(session.state) or ["nothing recorded"]]
    if not lines:
        names = sorted({session.machine for session in readable if session.machine})
        known = f"; there are sessions of {', '.join(names)}" if names else ""
        raise CompanionError(f"There is no session of a machine named '{machine}'{known}.")
    unreadable = [session for session in sessions if isinstance(session, UnreadableSession)]
    lines += [f"not read: {session.folder.name}: {session.why}" for session in unreadable]
    return lines


def _facts(state: State) -> list[str]:
    """Each thing that counts as a line: tags first, then readings, fluids and the rest."""
    lines = [f"TAG HANGS: {tag.tag} ({tag.reason})" for tag in state.tags]
    for reading in sorted(state.effective(state.readings), key=lambda fact: fact.place):
        event = reading.event
        lines.append(f"{event.measure} {quantity(event.value, event.unit)}: {verdict_words(event)}")
    volumes: dict[tuple[str, str, str], Decimal] = {}
    for moved in state.effective(state.fluids):
        key = (moved.event.fluid, moved.event.action, moved.event.unit)
        volumes[key] = volumes.get(key, Decimal(0)) + moved.event.value
    lines += [
        f"{fluid} {action}: {quantity(value, unit)}"
        for (fluid, action, unit), value in volumes.items()
    ]
    for finding in state.effective(state.findings):
        lines.append(f"found {finding.event.part} {finding.event.condition}")
    for work in state.effective(state.work):
        lines.append(f"{work.event.action} {work.event.part}")
    for used in state.effective(state.parts_used):
        lines.append(f"used {used.event.count} × {used.event.part}")
    for needed in state.effective(state.parts_needed):
        lines.append(f"needed {needed.event.count} × {needed.event.part}")
    for follow_up in state.effective(state.follow_ups):
        lines.append(f"follow up {follow_up.event.part}")
    return lines
