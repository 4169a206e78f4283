"""Questions about fluids: what went out and in, how much more goes in, and which grade."""

from __future__ import annotations

from companion.handbook.convert import rounded
from companion.job import fill, fluids
from companion.job.answers import FillSaid, GradeSaid, Nothing, ReadBackFluid
from companion.job.sheet import SpecFluid
from companion.job.state import State
from companion.job.turn import Turn


def totals(state: State, name: str) -> ReadBackFluid | None:
    """Return what was called of a fluid, in the unit used last; None if nothing was."""
    if not state.fluids.about(name) and not state.levels.about(name):
        return None
    unit = fill.unit_said(state, name)
    now = fluids.balance(state, name)
    to_capacity = fluids.to_capacity(state, name, unit)
    filled = fill.fill_of(state, name)
    return ReadBackFluid(
        fluid=name,
        drained=fill.in_unit(state, now.drained, unit),
        added=fill.in_unit(state, now.added, unit),
        unit=unit,
        to_capacity=None if to_capacity is None else rounded(to_capacity, unit),
        level=now.level,
        percent=None if filled is None else filled.percent,
    )


def how_much_more(turn: Turn, name: str | None) -> None:
    """Act on "how much more"; without a name the fluid named last is meant."""
    name = name or fluids.last_named(turn.state)
    if name is None:
        turn.answer(Nothing("Which fluid? Ask again with its name."))
        return
    turn.answer(fill_so_far(turn.state, name))


def fill_so_far(state: State, name: str) -> FillSaid:
    """Return how far a fluid is filled and, before anything is in, how to begin."""
    spec = fluids.spec_of(state, name) or SpecFluid(name=name)
    now = fluids.balance(state, name)
    unit = fill.unit_said(state, name)
    capacity = fill.capacity_of(state, name)
    begins = now.emptied and now.filled <= 0
    return FillSaid(
        fluid=name,
        fill=fill.fill_of(state, name),
        capacity=None if capacity is None else (fill.in_unit(state, capacity, unit), unit),
        sheet=fill.of_the_sheet(state, name),
        first=fill.first_fill(state, name) if begins and fill.creeps(spec) else None,
        check=fill.filled_by(spec),
        out=fill.in_unit(state, now.drained, unit) if now.emptied else None,
        out_unit=unit,
        grade=fill.grade_to_fill(state, spec) if begins else None,
    )


def grade(turn: Turn, name: str) -> None:
    """Act on "oil grade": the one for the air temperature, or all of them where it is not known."""
    spec = fluids.spec_of(turn.state, name)
    if spec is None or not spec.grades:
        turn.answer(GradeSaid(name, None if spec is None else spec.grade))
        return
    temperature = fill.air(turn.state)
    if temperature is None:
        turn.answer(GradeSaid(name, None, None, fill.coldest_first(spec)))
        return
    found = fill.grade_at(spec, temperature)
    ranges = fill.coldest_first(spec) if found is None else ()
    turn.answer(GradeSaid(name, found.grade if found else None, temperature, ranges))
