"""Why an engine must not be started, worked out naively from the records of a machine's jobs alone.

It knows the rules as the manual has them, has small lists of its own, and shares no code with the
gate. It is a lower bound: what it finds stands for certain, what it does not find may still stand.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
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

BOLTS = ("handle bolt", "deck bolt")

OFF: tuple[tuple[tuple[str, ...], str, set[str], set[str]], ...] = (
    (("drive belt", "reverse belt"), "belt off", {"removed"}, {"installed", "replaced"}),
    (
        ("shear pin", "chain", "blade", "auger", "idler pulley"),
        "drive open",
        {"removed"},
        {"installed", "replaced"},
    ),
    (("guard", "belt guard"), "guard off", {"removed"}, {"installed", "replaced"}),
    (
        ("plug wire",),
        "plug wire off",
        {"removed", "disconnected"},
        {"installed", "replaced", "connected"},
    ),
    (
        ("battery",),
        "battery off",
        {"removed", "disconnected"},
        {"installed", "replaced", "connected"},
    ),
    (("fuel valve",), "fuel off", {"closed"}, {"opened"}),
    (("machine",), "blocked up", {"raised"}, {"lowered"}),
    (
        ("spark plug", "muffler"),
        "part off",
        {"removed"},
        {"installed", "replaced", "tightened", "connected"},
    ),
    (BOLTS, "bolts loose", {"loosened"}, {"tightened"}),
    (BOLTS, "bolts loose", {"removed"}, {"tightened"}),
)
"""Parts, the tag that hangs for them, what takes them off, and what alone puts them back."""

FOUND: tuple[tuple[tuple[str, ...], str, set[str], str | None], ...] = (
    (BOLTS, "loose", {"tightened", "repaired", "replaced"}, None),
    (("fuel line",), "leaking", {"repaired", "replaced"}, None),
    (("fuel line",), "cracked", {"repaired", "replaced"}, None),
    (("blade",), "cracked", {"repaired", "replaced"}, None),
    (("brake cable",), "frayed", {"repaired", "replaced"}, None),
    (("guard", "belt guard"), "broken", {"repaired", "replaced"}, "guard off"),
    (("guard", "belt guard"), "missing", {"repaired", "replaced", "installed"}, "guard off"),
)
"""Parts, the condition that keeps the engine from being started, what alone mends it, its tag."""


@dataclass(frozen=True)
class Called:
    """What was called and counts, with the time at which it counts."""

    at: datetime
    session: str
    event: ev.Event


def reasons(sessions: Mapping[str, Sequence[Record]], own: str | None = None) -> list[str]:
    """Say why the engine of a machine must not be started after these records.

    Args:
        sessions: The records of every job of the machine, by name.
        own: The job in which the start is asked for; the only one if left out.
    """
    own = own or next(iter(sessions))
    calls = sorted(
        (call for name, records in sessions.items() for call in _calls(name, records)),
        key=lambda call: call.at,
    )
    return [
        *_hung_by_call(calls),
        *_running(sessions[own]),
        *(f"{fluid} unknown" for fluid in NEEDS_LEVEL if _level_unknown(calls, fluid)),
        *(f"{fluid} out" for fluid in REMINDS if _out(calls, fluid)),
        *(f"{fluid} too much" for fluid in ("oil",) if _too_much(sessions[own], own, fluid)),
        *_off(calls),
        *_unmended(calls),
        *_not_affirmed(calls),
    ]


def _calls(name: str, records: Sequence[Record]) -> list[Called]:
    """What counts, each where it, or what it corrects, was called; times never go back."""
    gone = _superseded(records)
    by_number = {record.seq: record for record in records}
    placed: list[tuple[int, datetime, Record]] = []
    for record in records:
        if record.seq in gone:
            continue
        place, first = record.seq, record.event
        while isinstance(first, ev.Correctable) and first.corrects is not None:
            place = first.corrects
            first = by_number[place].event
        # What is put right afterwards counts from when it was called.
        at = record.at if record.event.reviewed is None else by_number[place].at
        placed.append((place, at, record))
    found = []
    latest: datetime | None = None
    for _, at, record in sorted(placed, key=lambda entry: entry[0]):
        latest = at if latest is None else max(latest, at)
        found.append(Called(latest, name, record.event))
    return found


def _superseded(records: Sequence[Record]) -> set[int]:
    gone: set[int] = set()
    corrected: dict[int, int] = {}
    for record in records:
        event = record.event
        if isinstance(event, ev.Correctable) and event.corrects is not None:
            gone.add(event.corrects)
            corrected[record.seq] = event.corrects
        elif isinstance(event, ev.Disregarded):
            gone.add(event.record)
            gone.discard(event.restores or 0)
            if event.restores in corrected:
                gone.add(corrected[event.restores])
    return gone


def _hung_by_call(calls: Sequence[Called]) -> list[str]:
    up: dict[str, bool] = {}
    for call in calls:
        if isinstance(call.event, ev.TagHung) and call.event.by == "voice":
            up[call.event.tag] = True
        elif isinstance(call.event, ev.TagCleared):
            up[call.event.tag] = False
    return [f"tag {tag}" for tag, hangs in up.items() if hangs]


def _running(records: Sequence[Record]) -> list[str]:
    running = False
    for record in records:
        if isinstance(record.event, ev.EngineRunning):
            running = True
        elif isinstance(record.event, ev.EngineStopped):
            running = False
    return ["running"] if running else []


# --- fluids -------------------------------------------------------------------------------------


def _of_fluid(calls: Sequence[Called], fluid: str) -> list[ev.FluidMoved | ev.LevelRead]:
    return [
        call.event
        for call in calls
        if isinstance(call.event, ev.FluidMoved | ev.LevelRead) and call.event.fluid == fluid
    ]


def _level_unknown(calls: Sequence[Called], fluid: str) -> bool:
    added = Decimal(0)
    emptied, proven = False, True
    for event in _of_fluid(calls, fluid):
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
            # Less than half of what can be in may be too much let out, which is no draining.
            if ounces > max(added, CAPACITY) / 2 * Decimal("1.01"):
                emptied = True
    return emptied or not proven


def _out(calls: Sequence[Called], fluid: str) -> bool:
    added = Decimal(0)
    out = False
    for call in calls:
        event = call.event
        if isinstance(event, ev.TagCleared) and event.tag == REMINDS[fluid]:
            out = False
        if not isinstance(event, ev.FluidMoved) or event.fluid != fluid or event.value <= 0:
            continue
        ounces = event.value * OUNCES[event.unit]
        if event.action == "added":
            added += ounces
            out = False
        elif ounces > added / 2:
            out = True
    return out


def _too_much(records: Sequence[Record], own: str, fluid: str) -> bool:
    """More went in, in one job and since it was drained last, than the sump takes and a quarter."""
    opened = records[0].event
    if not isinstance(opened, ev.SessionOpened) or opened.machine is None:
        return False
    poured = Decimal(0)
    for event in _of_fluid(_calls(own, records), fluid):
        if isinstance(event, ev.FluidMoved) and event.value > 0:
            ounces = event.value * OUNCES[event.unit]
            poured = poured + ounces if event.action == "added" else Decimal(0)
    return poured > CAPACITY * Decimal("1.26")


# --- parts --------------------------------------------------------------------------------------


def _off(calls: Sequence[Called]) -> list[str]:
    return [
        f"{part} {' or '.join(sorted(off))}"
        for parts, _, off, on in OFF
        for part in parts
        if _stands(calls, part, off, on)
    ]


def _stands(calls: Sequence[Called], part: str, off: set[str], on: set[str]) -> bool:
    """Whether fewer were called back than were called off."""
    left, every = 0, False
    for call in calls:
        event = call.event
        if not isinstance(event, ev.WorkRecorded) or event.part != part:
            continue
        if event.action in off:
            left = left + event.count if part in BOLTS else max(left, event.count)
            every = every or event.every
        elif event.action in on:
            if event.every:
                left, every = 0, False
            elif not every:
                left = max(0, left - event.count)
    return left > 0


def _unmended(calls: Sequence[Called]) -> list[str]:
    found = []
    for parts, condition, mended, _ in FOUND:
        for part in parts:
            stands = False
            for call in calls:
                event = call.event
                if isinstance(event, ev.FindingRecorded):
                    if (event.part, event.condition) == (part, condition):
                        stands = True
                elif isinstance(event, ev.WorkRecorded) and event.part == part:
                    stands = stands and event.action not in mended
            if stands:
                found.append(f"{part} {condition}")
    return found


def _not_affirmed(calls: Sequence[Called]) -> list[str]:
    """Tags of which nobody affirmed that they may come down since what they hang for was called."""
    up: dict[str, bool] = {}
    for call in calls:
        event = call.event
        if isinstance(event, ev.WorkRecorded):
            for parts, tag, off, _ in OFF:
                if event.part in parts and event.action in off:
                    up[tag] = True
        elif isinstance(event, ev.FindingRecorded):
            for parts, condition, _, of_finding in FOUND:
                if of_finding is not None and event.part in parts and event.condition == condition:
                    up[of_finding] = True
        elif isinstance(event, ev.FluidMoved):
            if event.action == "drained" and event.value > 0 and event.fluid in NEEDS_LEVEL:
                up[NEEDS_LEVEL[event.fluid]] = True
        elif isinstance(event, ev.LevelRead):
            if event.level != "full" and event.fluid in NEEDS_LEVEL:
                up[NEEDS_LEVEL[event.fluid]] = True
        elif isinstance(event, ev.TagCleared):
            up[event.tag] = False
    return [f"tag {tag} not affirmed" for tag, hangs in up.items() if hangs]
