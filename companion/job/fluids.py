"""How much of a fluid went out and in, and whether it is known to be where it should be."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from companion.handbook.units import from_si, to_si
from companion.job.events import FluidMoved, LevelRead
from companion.job.sheet import SpecFluid
from companion.job.state import Fact, State
from companion.job.tags import FILLINGS

EXCESS_SHARE = Decimal("0.25")
"""Up to this share of what was filled, or of the capacity of a sump called over, may be let out
again without counting as drained, until the level is called full. Our own figure: it leaves three
quarters in, and the level must still be called full."""


@dataclass(frozen=True, slots=True)
class Standing:
    """What the calls say of one fluid.

    Attributes:
        drained: All that went out, in cubic meters.
        added: All that went in, in cubic meters.
        emptied: Whether it was drained at all.
        filled: What went in since it was drained, less what went out again, in cubic meters.
        level: The level called last; None where it was never called, or not since a draining.
        settled: Whether nothing was added since ``level`` was called.
        missing: Why the tag of this fluid must hang, in words; empty where nothing speaks for it.
    """

    drained: Decimal
    added: Decimal
    emptied: bool
    filled: Decimal
    level: Literal["full", "low", "over"] | None
    settled: bool
    missing: tuple[str, ...]


def standing(state: State, fluid: str) -> Standing:
    """Work out what the calls that count say of a fluid."""
    spec = spec_of(state, fluid)
    drained = added = filled = excess = Decimal(0)
    emptied = settled = unproven = False
    level: Literal["full", "low", "over"] | None = None
    for fact in _in_order(state, fluid):
        if isinstance(fact.event, LevelRead):
            level, settled = fact.event.level, True
            unproven = level != "full"
            if level == "over":
                excess = EXCESS_SHARE * max(filled, _capacity(state, spec))
            elif level == "full":
                excess = Decimal(0)
            continue
        volume, _ = to_si(fact.event.value, fact.event.unit, ounce=state.ounce)
        if volume <= 0:
            continue
        if fact.event.action == "added":
            added += volume
            settled = False
            if emptied:
                filled += volume
                excess = EXCESS_SHARE * filled
            continue
        drained += volume
        if volume <= excess:
            excess -= volume
            filled -= min(volume, filled)
        else:
            emptied, filled, excess = True, Decimal(0), Decimal(0)
        level, settled, unproven = None, False, True
    missing = _missing(fluid, emptied, filled, level, unproven)
    return Standing(drained, added, emptied, filled, level, settled, missing)


def _in_order(state: State, fluid: str) -> list[Fact[FluidMoved] | Fact[LevelRead]]:
    moves = (fact for fact in state.effective(state.fluids) if fact.event.fluid == fluid)
    levels = (fact for fact in state.effective(state.levels) if fact.event.fluid == fluid)
    return sorted([*moves, *levels], key=lambda fact: fact.place)


def _missing(
    fluid: str,
    emptied: bool,
    filled: Decimal,
    level: Literal["full", "low", "over"] | None,
    unproven: bool,
) -> tuple[str, ...]:
    filling = FILLINGS.get(fluid)
    if filling is None:
        return ()
    level_unknown = filling.level_needed and unproven and level is None
    if emptied and filled <= 0 and level_unknown:
        # One sentence: both are heard together most often, and the gate has to be short.
        return (f"{fluid} was drained, none was called added, and its level not called full",)
    reasons = []
    if emptied and filled <= 0:
        reasons.append(f"{fluid} was drained and none was called added since")
    if filling.level_needed and unproven:
        reasons.append(
            f"{fluid} level has not been called full since it was drained"
            if level is None
            else f"{fluid} level was last called {level}"
        )
    return tuple(reasons)


def spec_of(state: State, fluid: str) -> SpecFluid | None:
    """Return what the sheet says of a fluid, or None."""
    if state.sheet is None:
        return None
    return next((spec for spec in state.sheet.fluid if spec.name == fluid), None)


def _capacity(state: State, spec: SpecFluid | None) -> Decimal:
    """In cubic meters; zero where the sheet gives none."""
    if spec is None or spec.capacity is None or spec.unit is None:
        return Decimal(0)
    return to_si(spec.capacity, spec.unit, ounce=state.ounce)[0]


def to_capacity(state: State, fluid: str, unit: str) -> Decimal | None:
    """Return how much more the sheet's capacity takes, in ``unit``; negative when over.

    None where the sheet gives no capacity, or where the fluid was not drained, so that nobody knows
    how much was in.
    """
    capacity = _capacity(state, spec_of(state, fluid))
    now = standing(state, fluid)
    if not capacity or not now.emptied:
        return None
    return from_si(capacity - now.filled, unit, ounce=state.ounce)


def last_named(state: State) -> str | None:
    """Return the fluid named last by a call that counts, or None."""
    facts: list[Fact[FluidMoved] | Fact[LevelRead]] = [
        *state.effective(state.fluids)[-1:],
        *state.effective(state.levels)[-1:],
    ]
    latest = max(facts, key=lambda fact: fact.seq, default=None)
    return None if latest is None else latest.event.fluid


def to_check(state: State) -> tuple[str, ...]:
    """Return the fluids whose level must be known before a start.

    Those of the sheet that keep an engine alive, oil where the sheet lists no fluids, and whatever
    of the kind was called in this job.
    """
    sheet = () if state.sheet is None else tuple(spec.name for spec in state.sheet.fluid)
    # A sheet that lists fluids and no oil is of a machine without a sump.
    names = [*(sheet or ("oil",)), *(fact.event.fluid for fact in state.effective(state.fluids))]
    needed = (name for name in names if name in FILLINGS and FILLINGS[name].level_needed)
    return tuple(dict.fromkeys(needed))
