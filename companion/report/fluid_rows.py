"""Fluids on the page: what went in and out, and how that stands against what the sheet wants."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from companion.handbook.convert import rounded
from companion.handbook.units import UnknownUnit, from_si, to_si, unit_named
from companion.job import events as ev
from companion.job.fill import fill_of
from companion.job.fluids import balance, spec_of, to_capacity
from companion.job.sheet import SpecFluid
from companion.job.state import State
from companion.job.state_values import Fact
from companion.report.figures import (
    Figure,
    figure,
)
from companion.report.rows import Bar, FluidSection, FluidTotals, MoveRow, Origin
from companion.report.sheet_page import range_text


def fluids(state: State, at: dict[int, Origin]) -> tuple[FluidSection, ...]:
    """Return every fluid that was moved or whose level was called, the first named first."""
    facts = in_order((*state.fluids, *state.levels))
    names = dict.fromkeys(fact.event.fluid for fact in facts)
    return tuple(_fluid(state, at, name) for name in names)


def in_order(facts: Sequence[Fact[Any]]) -> list[Fact[Any]]:
    """Return facts in the order of the calls, a correction after what it corrects."""
    return sorted(facts, key=lambda fact: (fact.place, fact.seq))


def _fluid(state: State, at: dict[int, Origin], name: str) -> FluidSection:
    spec = spec_of(state, name)
    return FluidSection(
        fluid=name,
        grade=_grade_text(spec),
        totals=_totals(state, name),
        moves=_moves(state, at, name),
    )


def _grade_text(spec: SpecFluid | None) -> str | None:
    """What the sheet wants filled: one grade, or each with its temperatures."""
    if spec is None or not spec.grades:
        return spec.grade if spec is not None else None
    return ", ".join(f"{each.grade} {range_text(each)}" for each in spec.grades)


def _totals(state: State, name: str) -> FluidTotals | None:
    """Sum a fluid up, in the unit that was called last."""
    moved = [fact.event for fact in in_order(state.effective(state.fluids))]
    unit = next((event.unit for event in reversed(moved) if event.fluid == name), "ounce")
    spec = spec_of(state, name)
    try:
        now = balance(state, name)
        volumes = [("drained", now.drained), ("added", now.added)]
        if spec is not None and spec.capacity is not None and spec.unit is not None:
            volumes.append(("takes", to_si(spec.capacity, spec.unit, ounce=state.ounce)[0]))
        net = from_si(now.added - now.drained, unit, ounce=state.ounce)
        left = to_capacity(state, name, unit)
        filled = fill_of(state, name)
    except UnknownUnit:
        return None
    most = max(volume for _, volume in volumes)
    # Less than the finest step of a measuring cup is no difference.
    step = unit_named(unit).finest
    net -= net.remainder_near(step)
    if left is not None:
        left -= left.remainder_near(step)
    return FluidTotals(
        bars=tuple(
            Bar(label, _volume(state, volume, unit), _share(volume, most))
            for label, volume in volumes
        ),
        net=figure(rounded(abs(net), unit), unit, state.ounce),
        balance="even" if net == 0 else "more in than out" if net > 0 else "more out than in",
        to_capacity=None if left is None else figure(rounded(abs(left), unit), unit, state.ounce),
        percent=None if filled is None else filled.percent,
        fill="even" if not left else "over" if left < 0 else "short",
        level=now.level,
    )


def _share(volume: Decimal, most: Decimal) -> float:
    return float(round(volume / most * 100, 1)) if most > 0 and volume > 0 else 0.0


def _volume(state: State, cubic_meters: Decimal, unit: str) -> Figure:
    value = from_si(cubic_meters, unit, ounce=state.ounce)
    return figure(rounded(value, unit), unit, state.ounce)


def _moves(state: State, at: dict[int, Origin], name: str) -> tuple[MoveRow, ...]:
    facts = [fact for fact in in_order((*state.fluids, *state.levels)) if fact.event.fluid == name]
    rows = []
    for fact in facts:
        event = fact.event
        if isinstance(event, ev.LevelRead):
            rows.append(MoveRow(at[fact.seq], f"level {event.level}", None))
        else:
            shown = figure(event.value, event.unit, state.ounce)
            rows.append(MoveRow(at[fact.seq], event.action, shown))
    return tuple(rows)
