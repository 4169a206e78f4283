"""Why an engine must not be started, worked out naively from the records of a job alone.

It knows the rules as the manual has them and shares no code with the gate. It is a lower bound:
what it finds stands for certain, what it does not find may still stand.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from companion.job import events as ev
from companion.job.record import Record

OUNCES = {
    "ounce": Decimal(1),
    "pint": Decimal(16),
    "quart": Decimal(32),
    "milliliter": Decimal("0.0338"),
}
"""US fluid ounces in the units that the tests move fluid in; NIST SP 811, the last rounded."""

CAPACITY = Decimal(20)
"""Ounces that the largest sump of the tests takes."""

NEEDS_LEVEL = {"oil": "no oil", "gear oil": "no gear oil", "coolant": "no coolant"}
REMINDS = {"fuel": "no fuel", "two stroke mix": "no fuel"}

OFF = {
    "belt off": (("drive belt", "reverse belt"), {"removed"}, {"installed", "replaced"}),
    "drive open": (
        ("shear pin", "chain", "blade", "auger", "idler pulley"),
        {"removed"},
        {"installed", "replaced"},
    ),
    "guard off": (("guard", "belt guard"), {"removed"}, {"installed", "replaced", "repaired"}),
    "plug wire off": (
        ("plug wire",),
        {"removed", "disconnected"},
        {"installed", "replaced", "connected"},
    ),
    "battery off": (
        ("battery",),
        {"removed", "disconnected"},
        {"installed", "replaced", "connected"},
    ),
    "fuel off": (("fuel valve",), {"closed", "removed"}, {"opened", "installed", "replaced"}),
    "blocked up": (("machine",), {"raised"}, {"lowered"}),
}  # fmt: skip
"""By tag: parts, what takes them off, what puts them back. "Affirm" alone also ends it."""

DANGERS = {
    "loose": (None, {"tightened", "adjusted", "repaired", "replaced", "installed"}),
    "leaking": (("fuel line",), {"tightened", "repaired", "replaced", "installed"}),
    "cracked": (("blade",), {"repaired", "replaced"}),
}
"""By condition: of which parts it keeps the engine from being started, and what mends it."""


def reasons(records: Sequence[Record]) -> list[str]:
    """Say why the engine must not be started after these records."""
    gone = _superseded(records)
    return [
        *_hanging(records),
        *_running(records),
        *(f"{fluid} unknown" for fluid in NEEDS_LEVEL if _level_unknown(records, gone, fluid)),
        *(f"{fluid} out" for fluid in REMINDS if _out(records, gone, fluid)),
        *_parts_off(records, gone),
        *_left_loose(records, gone),
        *_took_back_a_fitting(records, gone),
        *_unmended(records, gone),
    ]


def _superseded(records: Sequence[Record]) -> set[int]:
    gone: set[int] = set()
    for record in records:
        event = record.event
        if isinstance(event, ev.ReadingRecorded | ev.FluidMoved) and event.corrects is not None:
            gone.add(event.corrects)
        elif isinstance(event, ev.Disregarded):
            gone.add(event.record)
            gone.discard(event.restores or 0)
    return gone


def _cleared(records: Sequence[Record], tag: str) -> list[int]:
    return [
        record.seq
        for record in records
        if isinstance(record.event, ev.TagCleared) and record.event.tag == tag
    ]


def _hanging(records: Sequence[Record]) -> list[str]:
    up: dict[str, bool] = {}
    for record in records:
        if isinstance(record.event, ev.TagHung):
            up[record.event.tag] = True
        elif isinstance(record.event, ev.TagCleared):
            up[record.event.tag] = False
    return [tag for tag, hangs in up.items() if hangs]


def _running(records: Sequence[Record]) -> list[str]:
    running = False
    for record in records:
        if isinstance(record.event, ev.EngineRunning):
            running = True
        elif isinstance(record.event, ev.EngineStopped):
            running = False
    return ["running"] if running else []


def _of_fluid(records: Sequence[Record], gone: set[int], fluid: str) -> list[tuple[int, Record]]:
    """What was called of a fluid and counts, each with the number whose place it stands in."""
    by_number = {record.seq: record for record in records}
    found = []
    for record in records:
        event = record.event
        if not isinstance(event, ev.FluidMoved | ev.LevelRead) or event.fluid != fluid:
            continue
        if record.seq in gone:
            continue
        place, first = record.seq, event
        while isinstance(first, ev.FluidMoved) and first.corrects is not None:
            place = first.corrects
            first = by_number[place].event
        found.append((place, record))
    return sorted(found, key=lambda entry: entry[0])


def _level_unknown(records: Sequence[Record], gone: set[int], fluid: str) -> bool:
    calls = [record.event for _, record in _of_fluid(records, gone, fluid)]
    added = Decimal(0)
    emptied, proven = False, True
    for event in calls:
        if isinstance(event, ev.LevelRead):
            proven = event.level == "full"
            continue
        ounces = event.value * OUNCES[event.unit]
        if ounces <= 0:
            continue
        if event.action == "added":
            added += ounces
            emptied = False
        else:
            proven = False
            # Less than a quarter of what can be in may be too much let out, which is no draining.
            if ounces > max(added, CAPACITY) / 4 * Decimal("1.01"):
                emptied = True
    return emptied or not proven


def _out(records: Sequence[Record], gone: set[int], fluid: str) -> bool:
    calls = [record for _, record in _of_fluid(records, gone, fluid)]
    moves = [r for r in calls if isinstance(r.event, ev.FluidMoved) and r.event.value > 0]
    if not moves or not isinstance(moves[-1].event, ev.FluidMoved):
        return False
    last_drained = max(
        (
            r.seq
            for r in moves
            if isinstance(r.event, ev.FluidMoved) and r.event.action == "drained"
        ),
        default=0,
    )
    answered = any(seq > last_drained for seq in _cleared(records, REMINDS[fluid]))
    return moves[-1].event.action == "drained" and not answered


def _parts_off(records: Sequence[Record], gone: set[int]) -> list[str]:
    found = []
    for tag, (parts, off, on) in OFF.items():
        for part in parts:
            since = 0
            for record in records:
                event = record.event
                if record.seq in gone:
                    continue
                if isinstance(event, ev.WorkRecorded) and event.part == part:
                    since = record.seq if event.action in off else since
                    since = 0 if event.action in on else since
                elif (
                    isinstance(event, ev.FindingRecorded)
                    and tag == "guard off"
                    and event.part == part
                    and event.condition in ("missing", "broken")
                ):
                    since = record.seq
            if since and not any(seq > since for seq in _cleared(records, tag)):
                found.append(f"{part} off")
    return found


def _left_loose(records: Sequence[Record], gone: set[int]) -> list[str]:
    loose: dict[str, bool] = {}
    for record in records:
        event = record.event
        if record.seq in gone or not isinstance(event, ev.WorkRecorded):
            continue
        if event.action == "loosened" or (
            event.action == "removed" and event.part.endswith("bolt")
        ):
            loose[event.part] = True
        elif event.action == "tightened":
            loose[event.part] = False
    return [f"{part} left loose" for part, is_loose in loose.items() if is_loose]


def _took_back_a_fitting(records: Sequence[Record], gone: set[int]) -> list[str]:
    """A tag that came down after a part was put back hangs again once that is taken back."""
    by_number = {record.seq: record for record in records}
    found = []
    for record in records:
        if not isinstance(record.event, ev.Disregarded):
            continue
        fitting = by_number[record.event.record].event
        if not isinstance(fitting, ev.WorkRecorded):
            continue
        for tag, (parts, _, on) in OFF.items():
            if fitting.part not in parts or fitting.action not in on:
                continue
            cleared = _cleared(records, tag)
            meant = any(record.event.record < seq < record.seq for seq in cleared)
            if meant and not any(seq > record.seq for seq in cleared):
                found.append(f"{fitting.part} was not put back")
    return found


def _unmended(records: Sequence[Record], gone: set[int]) -> list[str]:
    found: dict[tuple[str, str], bool] = {}
    for record in records:
        event = record.event
        if record.seq in gone:
            continue
        if isinstance(event, ev.FindingRecorded) and event.condition in DANGERS:
            parts, _ = DANGERS[event.condition]
            if parts is None or event.part in parts:
                found[event.part, event.condition] = True
        elif isinstance(event, ev.WorkRecorded):
            for condition, (_, mended_by) in DANGERS.items():
                if event.action in mended_by and (event.part, condition) in found:
                    found[event.part, condition] = False
    return [f"{part} {condition}" for (part, condition), stands in found.items() if stands]
