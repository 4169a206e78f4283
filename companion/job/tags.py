"""What hangs a tag by itself, and what asks to take one down."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

PLUG_WIRE_OFF = "plug wire off"
"""The tag that says that the engine cannot fire."""


@dataclass(frozen=True, slots=True)
class Fitting:
    """A part whose absence keeps the engine from being started.

    Attributes:
        part: As work calls name it, or the last word of such a name: a belt guard is a guard.
        tag: What hangs while it is off.
        why: Why the engine must not be started then.
    """

    part: str
    tag: str
    why: str


FITTINGS = (
    Fitting("plug wire", PLUG_WIRE_OFF, "hands may be where the engine would throw them"),
    Fitting("belt", "belt off", "the drive is open and a hand may be in it"),
    Fitting("guard", "guard off", "nothing stands between a person and what turns"),
    Fitting("battery", "battery off", "its cables lie loose and may arc or short"),
)
"""Parts whose removal implies a tag, and whose refitting asks to clear it."""

REMOVED = frozenset({"removed"})
"""Work that takes a part off."""

FITTED = frozenset({"installed", "replaced"})
"""Work after which a part is on again. It only asks: a tag comes down by "affirm" alone."""

MISSING = frozenset({"missing", "broken"})
"""Conditions in which a guard guards nothing."""


@dataclass(frozen=True, slots=True)
class Filling:
    """A fluid without which, or with the wrong amount of which, the engine must not be started.

    Attributes:
        fluid: As fluid calls name it.
        tag: What hangs from draining on.
        level_needed: Whether only a level called full shows that enough is in.
    """

    fluid: str
    tag: str
    level_needed: bool


FILLINGS = {
    filling.fluid: filling
    for filling in (
        Filling("oil", "no oil", level_needed=True),
        Filling("coolant", "no coolant", level_needed=True),
        # An engine without fuel harms nobody: the tag only reminds, so that any filling will do.
        Filling("fuel", "no fuel", level_needed=False),
    )
}
"""By fluid, the tag that draining it implies."""

FILLING_BY_TAG = {filling.tag: filling for filling in FILLINGS.values()}


def fitting(part: str) -> Fitting | None:
    """Return the fitting that a part is, or None."""
    return next(
        (each for each in FITTINGS if part == each.part or part.endswith(f" {each.part}")), None
    )


def implied_by_work(action: str, part: str) -> Fitting | None:
    """Return the fitting whose tag this work hangs, or None."""
    return fitting(part) if action in REMOVED else None


def implied_by_finding(part: str, condition: str) -> Fitting | None:
    """Return the fitting whose tag this finding hangs, or None."""
    found = fitting(part)
    guards = found is not None and found.part == "guard"
    return found if guards and condition in MISSING else None


def refitted_by_work(action: str, part: str) -> Fitting | None:
    """Return the fitting whose tag this work asks to clear, or None."""
    return fitting(part) if action in FITTED else None


def tags_that_may_hang(fluids: Iterable[str]) -> tuple[str, ...]:
    """Return the tags that calls may hang by themselves, so that they can be named to clear them.

    Args:
        fluids: What may be drained in this job.
    """
    drained = (FILLINGS[fluid].tag for fluid in fluids if fluid in FILLINGS)
    return tuple(dict.fromkeys((*(each.tag for each in FITTINGS), *drained)))
