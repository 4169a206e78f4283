"""What a machine read and took in all its sessions: tables over time, then each session's rest."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from contextlib import nullcontext
from dataclasses import dataclass
from decimal import Decimal

from companion.errors import CompanionError
from companion.job.dangers import dangers
from companion.job.events import ReadingRecorded
from companion.job.known_of_machine import OtherSession, machine_known, state_by_all
from companion.job.lines import line
from companion.job.quantities import by_how_much, quantity, window_words
from companion.job.state import State
from companion.log.identity import SeveralMachines, serial_key
from companion.log.index import SessionIndex
from companion.log.summaries import SessionSummary, summarize
from companion.shelf.rules import shipped_rules

SESSIONS_BESIDE = 4
"""Sessions in one table; older ones have tables of their own below, so that lines stay short."""

NOTHING = "-"


@dataclass(frozen=True, slots=True)
class _Row:
    """One line of a table: what it is about, and by session what stands there."""

    name: str
    cells: Mapping[int, str]
    note: str = ""


def history_lines(machine: str, index: SessionIndex | None = None) -> list[str]:
    """Return the history of a machine as lines, the latest session first; only what still counts.

    Args:
        machine: Its name, or the key of its row in the index.
        index: Tells which sessions are of it; that of this user if left out.

    Raises:
        CompanionError: If there is no session of such a machine.
    """
    with SessionIndex() if index is None else nullcontext(index) as asked:
        try:
            key = asked.machine_row(machine).key
        except SeveralMachines:
            # Those of one model stand side by side.
            key = machine
        rows = asked.sessions(machine=key, archived=None, limit=None).rows
        unread = asked.sessions(status="unreadable", archived=None, limit=None).rows
    its = []
    unreadable = []
    for row in rows:
        try:
            its.append(summarize(row.folder))
        except CompanionError as error:
            unreadable.append((row.name, str(error)))
    if not its:
        raise CompanionError(f"No session of '{machine}' can be read: {unreadable[0][1]}")
    unreadable += [(row.name, str(row.why)) for row in unread]
    its.sort(key=lambda session: session.opened, reverse=True)
    lines = [f"{its[0].machine}: {len(its)} session{'' if len(its) == 1 else 's'}"]
    for start in range(0, len(its), SESSIONS_BESIDE):
        beside = its[start : start + SESSIONS_BESIDE]
        dates = [f"{session.opened:%Y-%m-%d}" for session in beside]
        if len(set(dates)) < len(dates):
            dates = [f"{session.opened:%Y-%m-%d %H:%M}" for session in beside]
        states = [session.state for session in beside]
        lines += _table("READ", dates, _readings(states), last="wanted")
        lines += _table("TOOK", dates, _taken(states))
    lines += ["", "DONE"]
    for session in its:
        about = f"{session.job}, {session.status}" if session.job else session.status
        lines.append(f"{session.opened:%Y-%m-%d}  {about}  ({session.folder.name})")
        rest = _rest(session.state, _now(session, its))
        lines += [f"    {line}" for line in rest or ["nothing else recorded"]]
    lines += [f"not read: {name}: {why}" for name, why in unreadable]
    return lines


def _readings(states: Sequence[State]) -> list[_Row]:
    rows: dict[str, dict[int, str]] = {}
    wanted: dict[str, str] = {}
    for column, state in enumerate(states):
        called: dict[str, list[ReadingRecorded]] = {}
        for fact in sorted(state.effective(state.readings), key=lambda fact: fact.place):
            called.setdefault(fact.event.measure, []).append(fact.event)
        for measure, events in called.items():
            rows.setdefault(measure, {})[column] = _from_first_to_last(events)
            window = events[-1].window
            # The latest sheet counts; its sessions come first.
            if window is not None:
                wanted.setdefault(measure, window_words(window))
            elif events[-1].si.unit == "s":
                wanted.setdefault(measure, "")
    return [
        _Row(measure, cells, wanted.get(measure, "not from the maker"))
        for measure, cells in rows.items()
    ]


def _from_first_to_last(events: Sequence[ReadingRecorded]) -> str:
    """ "40 → 30 thou, in": as it was found and as it was left."""
    last = events[-1]
    shown = quantity(last.value, last.unit)
    if len(events) > 1 and (events[0].value, events[0].unit) != (last.value, last.unit):
        same_unit = events[0].unit == last.unit
        first = f"{events[0].value:f}" if same_unit else quantity(events[0].value, events[0].unit)
        shown = f"{first} → {shown}"
    return shown if last.verdict == "unknown" else f"{shown}, {by_how_much(last)}"


def _taken(states: Sequence[State]) -> list[_Row]:
    rows: dict[str, dict[int, str]] = {}
    for column, state in enumerate(states):
        volumes: dict[tuple[str, str], dict[str, Decimal]] = {}
        for moved in state.effective(state.fluids):
            units = volumes.setdefault((moved.event.fluid, moved.event.action), {})
            units[moved.event.unit] = units.get(moved.event.unit, Decimal(0)) + moved.event.value
        for (fluid, action), units in volumes.items():
            rows.setdefault(f"{fluid} {action}", {})[column] = " + ".join(
                quantity(value, unit) for unit, value in units.items()
            )
        counts: dict[str, int] = {}
        for used in state.effective(state.parts_used):
            name = f"{used.event.part} used"
            counts[name] = counts.get(name, 0) + used.event.count
        for needed in state.effective(state.parts_needed):
            name = f"{needed.event.part} needed"
            counts[name] = counts.get(name, 0) + needed.event.count
        for name, count in counts.items():
            rows.setdefault(name, {})[column] = str(count)
    return [_Row(name, cells) for name, cells in rows.items()]


def _table(title: str, dates: Sequence[str], rows: Iterable[_Row], last: str = "") -> list[str]:
    body = [
        [row.name, *(row.cells.get(column, NOTHING) for column in range(len(dates))), row.note]
        for row in rows
    ]
    if not body:
        return []
    grid = [[title, *dates, last], *body]
    widths = [max(len(line[column]) for line in grid) for column in range(len(grid[0]))]
    return [
        "",
        *(
            "  ".join(text.ljust(width) for text, width in zip(line, widths, strict=True)).rstrip()
            for line in grid
        ),
    ]


def _now(session: SessionSummary, its: Sequence[SessionSummary]) -> State:
    """How the machine of a session stands by all of its sessions."""
    serial = session.state.serial
    others = [
        OtherSession(each.folder.name, each.opened, each.last, each.state)
        for each in its
        if serial is None
        or each.state.serial is None
        or serial_key(each.state.serial) == serial_key(serial)
    ]
    return state_by_all(others, machine_known(others, shipped_rules()))


def _rest(state: State, now: State) -> list[str]:
    """What is in no table: tags that hang, first of all, then findings, work and follow-ups.

    Args:
        state: Of the session.
        now: Of its machine: what came down or was mended since is told as past.
    """
    hanging = {tag.tag for tag in now.tags}
    held = [danger for danger in dangers(state) if danger.session is None]
    holding = {(danger.part, danger.what) for danger in dangers(now)}
    lines = [f"TAG HANGS: {tag.tag}" for tag in state.tags if tag.tag in hanging]
    lines += [
        f"HOLDS THE START: {each.part} {each.what}"
        for each in held
        if (each.part, each.what) in holding
    ]
    lines += [
        f"hung at its end, came down since: {tag.tag}"
        for tag in state.tags
        if tag.tag not in hanging
    ]
    lines += [
        f"held the start at its end, seen to since: {each.part} {each.what}"
        for each in held
        if (each.part, each.what) not in holding
    ]
    for finding in state.effective(state.findings):
        found = finding.event
        lines.append(f"found {line(found)}")
    for work in state.effective(state.work):
        lines.append(line(work.event))
    for follow_up in state.effective(state.follow_ups):
        lines.append(f"follow up {follow_up.event.part}")
    return lines
