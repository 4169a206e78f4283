"""What was done and replaced, put together as a person would list it."""

from __future__ import annotations

from collections.abc import Sequence

from companion.job import events as ev
from companion.job import fluids
from companion.job.lines import how_many
from companion.job.state import State
from companion.job.state_values import Fact
from companion.report.volumes import moved
from companion.report.watching import fluids_called

THERE_AND_BACK = {
    "removed": "installed",
    "disconnected": "connected",
    "raised": "lowered",
    "closed": "opened",
    "opened": "closed",
}
"""Work that only makes way for other work, and what ends it."""


def done(state: State) -> list[tuple[str, list[str]]]:
    """Return work by what was done, with how many of each, so that six grease points take one
    line; what was replaced is told by ``replaced``, and what was only taken off and put back on the
    way is left out."""
    by_action: dict[str, dict[str, list[ev.WorkRecorded]]] = {}
    passing = _there_and_back(state)
    for fact in state.effective(state.work):
        if fact.event.action != "replaced" and (fact.event.action, fact.event.part) not in passing:
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
        level = fluids.balance(state, name).level
        if level is not None:
            what.append(f"level {level}")
        rows.append((name, ", ".join(what)))
    return rows


def _there_and_back(state: State) -> set[tuple[str, str]]:
    """What was done and undone, each by its action and part; what was done last counts."""
    open_: dict[tuple[str, str], str] = {}
    passing: set[tuple[str, str]] = set()
    for fact in state.effective(state.work):
        action, part = fact.event.action, fact.event.part
        began = open_.pop((action, part), None)
        if began is not None:
            passing |= {(began, part), (action, part)}
        elif action in THERE_AND_BACK:
            passing.discard((action, part))
            open_[THERE_AND_BACK[action], part] = action
    return passing


def _together(part: str, events: Sequence[ev.WorkRecorded]) -> str:
    """How many of a part the same was done to. One called again may be the same one."""
    several = [event.count for event in events if event.count > 1]
    every = any(event.every for event in events)
    return how_many(part, sum(several) or 1, every=every)
