"""What was done and replaced, put together as a person would list it."""

from __future__ import annotations

from collections.abc import Sequence

from companion.job import events as ev
from companion.job import fluids
from companion.job.lines import how_many
from companion.job.state import Fact, State
from companion.report.volumes import moved
from companion.report.watching import fluids_called


def done(state: State) -> list[tuple[str, list[str]]]:
    """Return work by what was done, with how many of each, so that six grease points take one
    line; what was replaced is told by ``replaced``."""
    by_action: dict[str, dict[str, list[ev.WorkRecorded]]] = {}
    for fact in state.effective(state.work):
        if fact.event.action != "replaced":
            parts = by_action.setdefault(fact.event.action, {})
            parts.setdefault(fact.event.part, []).append(fact.event)
    return [
        (action, [_together(part, events) for part, events in parts.items()])
        for action, parts in by_action.items()
    ]


def replaced(state: State) -> list[tuple[str, int | None]]:
    """Return parts used with how many, and parts called replaced whose number was not called."""
    counts: dict[str, int | None] = dict(counts_of(state.effective(state.parts_used)))
    for fact in state.effective(state.work):
        if fact.event.action == "replaced":
            counts.setdefault(fact.event.part, None)
    return list(counts.items())


def counts_of(
    facts: Sequence[Fact[ev.PartUsed]] | Sequence[Fact[ev.PartNeeded]],
) -> list[tuple[str, int]]:
    """Return how many of each part, in all."""
    counts: dict[str, int] = {}
    for fact in facts:
        counts[fact.event.part] = counts.get(fact.event.part, 0) + fact.event.count
    return list(counts.items())


def filled(state: State) -> list[tuple[str, str]]:
    """Return each fluid with what was done with it: "drained 18 US fl oz (532 mL), level full"."""
    rows = []
    for name in fluids_called(state):
        what = [
            f"{action} {volume.called}{f' ({volume.also})' if volume.also else ''}"
            for action, volume in moved(state, name)
        ]
        level = fluids.standing(state, name).level
        if level is not None:
            what.append(f"level {level}")
        rows.append((name, ", ".join(what)))
    return rows


def _together(part: str, events: Sequence[ev.WorkRecorded]) -> str:
    """How many of a part the same was done to. One called again may be the same one."""
    several = [event.count for event in events if event.count > 1]
    every = any(event.every for event in events)
    return how_many(part, sum(several) or 1, every=every)
