"""How much of a fluid went out and in, and whether it is known to be where it should be."""

from __future__ import annotations

from collections.abc import Mapping
from copy import copy
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any, Literal

from companion.handbook.unit_table import OunceSystem
from companion.handbook.units import from_si, to_si
from companion.job.days_apart import days_between
from companion.job.events import FluidMoved, LevelRead
from companion.job.order_of_time import fold_in_order_of_time
from companion.job.reason import Reason
from companion.job.sheet import SpecFluid
from companion.job.state import State
from companion.job.state_values import Fact

EXCESS_SHARE = Decimal("0.25")
"""Up to this share of what was filled may be let out again without counting as drained, until the
level is called full. Our own figure: it leaves three quarters in, and the level must still be
called full. More than this above the capacity is too much, whatever the level was called."""

OVER_SHARE = Decimal("0.5")
"""The same of the capacity of a sump whose level was called over: what is let out then was too
much, and nothing has to go in again. Our own figure."""

OVER_UNKNOWN = Decimal("0.00025")
"""The same in cubic meters where nobody knows the capacity, about half a pint. Our own figure."""

Missing = Literal["none added", "level unproven", "low", "over", "overfilled"]
"""Why the tag of a fluid must hang: it was drained and none went in since; its level was not called
full since it was drained; its level was last called low or over; more went in than it takes."""


@dataclass(frozen=True, slots=True)
class Balance:
    """What the calls say of one fluid.

    Attributes:
        drained: All that went out, in cubic meters.
        added: All that went in, in cubic meters.
        emptied: Whether it was drained at all.
        filled: What went in since it was drained, less what went out again, in cubic meters.
        level: The level called last; None where it was never called, or not since a draining.
        settled: Whether nothing was added since ``level`` was called.
        missing: Why the tag of this fluid must hang; empty where it need not.
        since: When it was drained last, or its level called; None where neither was.
        session: The other session in which that was; None for this one.
    """

    drained: Decimal
    added: Decimal
    emptied: bool
    filled: Decimal
    level: Literal["full", "low", "over"] | None
    settled: bool
    missing: tuple[Missing, ...]
    since: datetime | None = None
    session: str | None = None


def balance(state: State, fluid: str) -> Balance:
    """Work out what the calls that count say of a fluid; totals are of this session alone."""
    capacity = _capacity(state, spec_of(state, fluid))
    calls = _called_of(state).get(fluid, _Called())
    drained, added, emptied, filled = calls.drained, calls.added, calls.emptied, calls.filled
    poured, level, settled, unproven = calls.poured, calls.level, calls.settled, calls.unproven
    since = calls.since
    overfilled = 0 < capacity * (1 + EXCESS_SHARE) < poured
    row = state.rules.dangers.fluids.get(fluid)
    missing: list[Missing] = []
    if row is not None:
        if emptied and filled <= 0:
            missing.append("none added")
        if row.level_needed and overfilled:
            missing.append("overfilled")
        if row.level_needed and unproven:
            missing.append("level unproven" if level is None or level == "full" else level)
    return Balance(
        drained,
        added,
        emptied,
        filled,
        level,
        settled,
        tuple(missing),
        None if since is None else since.at,
        None if since is None else since.session,
    )


def reasons(state: State, fluid: str, at: datetime | None = None) -> tuple[Reason, ...]:
    """Return why the tag of a fluid must hang, as values; none where it need not.

    Args:
        state: The job.
        fluid: Its name.
        at: From when it is seen; None where days do not matter.
    """
    now = balance(state, fluid)
    row = state.rules.dangers.fluids.get(fluid)
    days = 0 if at is None or now.since is None else days_between(now.since, at)
    return tuple(
        Reason(
            about="fluid",
            what=what,
            name=fluid,
            tag=None if row is None else row.tag,
            since=now.since,
            session=now.session,
            days=0 if now.session is None else days,
        )
        for what in now.missing
    )


@dataclass(slots=True)
class _Called:
    """What the calls of one fluid add up to; never changed once it is handed on.

    Attributes:
        poured: What went in, less what went out again, since it was drained or else at all.
        excess: How much may be let out again without counting as drained.
        unproven: Whether the level is not known to be full.
    """

    drained: Decimal = Decimal(0)
    added: Decimal = Decimal(0)
    filled: Decimal = Decimal(0)
    poured: Decimal = Decimal(0)
    excess: Decimal = Decimal(0)
    emptied: bool = False
    settled: bool = False
    unproven: bool = False
    level: Literal["full", "low", "over"] | None = None
    since: Fact[FluidMoved] | Fact[LevelRead] | None = None


def _called_of(state: State) -> Mapping[str, _Called]:
    """What the calls that count add up to, by fluid, in this session and the others of the
    machine."""

    def further(called: Mapping[str, _Called], fact: Fact[Any]) -> Mapping[str, _Called]:
        event = fact.event
        if not isinstance(event, FluidMoved | LevelRead):
            return called
        now = copy(called.get(event.fluid, _Called()))
        capacity = _capacity(state, spec_of(state, event.fluid))
        if isinstance(event, LevelRead):
            _level(now, event, capacity)
            now.since = fact
        else:
            _move(now, fact, capacity, state.ounce)
        return {**called, event.fluid: now}

    nothing: Mapping[str, _Called] = {}
    return fold_in_order_of_time(
        state, state.of_fluids, "fluids", nothing, further, holding=(state.sheet, state.ounce)
    )


def _level(now: _Called, event: LevelRead, capacity: Decimal) -> None:
    now.level, now.settled = event.level, True
    now.unproven = event.level != "full"
    if event.level == "over":
        now.excess = max(EXCESS_SHARE * now.filled, OVER_SHARE * capacity) or OVER_UNKNOWN
    elif event.level == "full":
        now.excess = Decimal(0)


def _move(now: _Called, fact: Fact[FluidMoved], capacity: Decimal, ounce: OunceSystem) -> None:
    volume, _ = to_si(fact.event.value, fact.event.unit, ounce=ounce)
    if volume <= 0:
        return
    own = fact.session is None
    if fact.event.action == "added":
        now.added += volume if own else 0
        now.settled = False
        now.poured += volume
        if now.emptied:
            now.filled += volume
            now.excess = EXCESS_SHARE * now.filled
        if capacity:
            # However much was in before, this much of it is too much.
            now.excess = max(now.excess, now.poured - capacity)
        return
    now.drained += volume if own else 0
    now.since = fact
    if volume <= now.excess:
        now.excess -= volume
        now.filled -= min(volume, now.filled)
        now.poured -= min(volume, now.poured)
    else:
        now.emptied = True
        now.filled = now.poured = now.excess = Decimal(0)
    now.level, now.settled, now.unproven = None, False, True


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

    Args:
        state: The job.
        fluid: Its name.
        unit: A unit's name.
    """
    capacity = _capacity(state, spec_of(state, fluid))
    now = balance(state, fluid)
    if not capacity or not now.emptied:
        return None
    return from_si(capacity - now.filled, unit, ounce=state.ounce)


def last_named(state: State) -> str | None:
    """Return the fluid named last by a call that counts, or None."""
    facts: list[Fact[FluidMoved] | Fact[LevelRead]] = [
        *state.effective(state.fluids)[-1:],
        *state.effective(state.levels)[-1:],
    ]
    latest = max(facts, key=lambda fact: fact.place, default=None)
    return None if latest is None else latest.event.fluid


def to_check(state: State) -> tuple[str, ...]:
    """Return the fluids whose level must be known before a start.

    Those of the sheet that keep an engine alive, oil where the sheet lists no fluids, and whatever
    of the kind was called in this job.
    """
    sheet = () if state.sheet is None else tuple(spec.name for spec in state.sheet.fluid)
    # A sheet that lists fluids and no oil is of a machine without a sump.
    names = [*(sheet or ("oil",)), *state.fluids.names]
    rows = state.rules.dangers.fluids
    needed = (name for name in names if name in rows and rows[name].level_needed)
    return tuple(dict.fromkeys(needed))
