"""What holds the start of a machine, thing by thing, so that two states can be compared."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from companion.job import fluids, gate
from companion.job.dangers import dangers
from companion.job.reason import Reason
from companion.job.state import State


@dataclass(frozen=True, slots=True)
class AtStake:
    """One thing that holds the start.

    Attributes:
        left: How many of it are left; several without a number count as more than any number.
        reason: As a value.
    """

    left: float
    reason: Reason


def at_stake(state: State) -> Mapping[tuple[str, ...], AtStake]:
    """Return everything that holds the start but the tags, by what it is."""
    found: dict[tuple[str, ...], AtStake] = {}
    for danger in dangers(state):
        left = float("inf") if danger.every else danger.left
        kind = "finding" if danger.found else "work"
        found[kind, danger.part, danger.what] = AtStake(left, danger.reason())
    for fluid in state.rules.dangers.fluids:
        for reason in fluids.reasons(state, fluid)[:1]:
            found["fluid", fluid] = AtStake(1, reason)
    for reason in gate.reasons_against_start(state):
        # A reason with a tag is among those above, or is the tag itself.
        if reason.tag is None and reason.about not in ("work", "finding"):
            found.setdefault((reason.about, reason.name), AtStake(1, reason))
    return found


def taken_off(before: State, after: State) -> tuple[Reason, ...]:
    """Return what held the start before and does not after, or less of it."""
    now = at_stake(after)
    return tuple(
        stake.reason
        for what, stake in at_stake(before).items()
        if what not in now or now[what].left < stake.left
    )


def tags_down(before: State, after: State) -> tuple[str, ...]:
    """Return the tags that hung before and do not after."""
    return tuple(tag.tag for tag in before.tags if after.tag(tag.tag) is None)
