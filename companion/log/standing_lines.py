"""How each machine of a shop stands, a line each, for the list of sessions."""

from __future__ import annotations

from collections.abc import Sequence

from companion.job.dangers import dangers
from companion.job.record import Record
from companion.job.rules import shipped_rules
from companion.job.standing_of_machine import OtherSession, machine_known
from companion.job.state import State, evolve
from companion.log.sessions import SessionSummary, UnreadableSession, slug
from companion.log.standing import identity_of


def machine_lines(sessions: Sequence[SessionSummary | UnreadableSession]) -> list[str]:
    """Return what stands on each machine by all its sessions; none of a machine with nothing."""
    by_machine: dict[tuple[str, str], list[SessionSummary]] = {}
    names: dict[tuple[str, str], str] = {}
    for session in sessions:
        if isinstance(session, UnreadableSession):
            continue
        identity = identity_of(session.state)
        if identity is None:
            continue
        key = (slug(identity.name), slug(identity.serial) if identity.serial else "")
        by_machine.setdefault(key, []).append(session)
        names[key] = identity.name + (f" ({identity.serial})" if identity.serial else "")
    lines = []
    for key, its in by_machine.items():
        standing = _standing(its)
        if standing:
            lines.append(f"{names[key]}: DO NOT START: {', '.join(standing)}")
    return lines


def _standing(sessions: Sequence[SessionSummary]) -> list[str]:
    rules = shipped_rules()
    others = [OtherSession(s.folder.name, s.opened, s.last, s.state) for s in sessions]
    latest = max(others, key=lambda other: other.last)
    start = State(rules, sheet=latest.state.sheet, ounce=latest.state.ounce)
    state = evolve(start, Record(1, latest.last, machine_known(others, rules)))
    tags = [tag.tag for tag in state.tags]
    return [*tags, *(f"{each.part} {each.what}" for each in dangers(state) if each.tag is None)]
