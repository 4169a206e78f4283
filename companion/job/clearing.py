"""What the question about a tag names: why it hung, and what was called of its fluid since."""

from __future__ import annotations

from companion.handbook.units import from_si
from companion.job import fluids
from companion.job.danger_table import FluidRow
from companion.job.reason import Filled, Reason
from companion.job.state import State
from companion.job.state_values import Tag


def grounds_of(tag: Tag) -> tuple[Reason, ...]:
    """Return why a tag hung, for the question whether it may come down."""
    if tag.because:
        return tag.because
    if tag.reason:
        return (Reason(about="words", what=tag.reason, tag=tag.tag),)
    return (Reason(about="tag", what=tag.by, name=tag.tag, step=tag.step, session=tag.session),)


def filled_of(state: State, tag: Tag) -> Filled | None:
    """Return what was called of a tag's fluid since; None where no fluid hangs it."""
    row = _fluid_meant(state, tag.tag)
    if row is None:
        return None
    now = fluids.balance(state, row.fluid)
    added = unit = None
    if now.emptied and now.filled > 0:
        unit = _unit_last_used(state, row.fluid)
        if unit is not None:
            added = round(from_si(now.filled, unit, ounce=state.ounce), 1)
    return Filled(
        fluid=row.fluid,
        taken_back=(
            tag.by == "implied"
            and not now.emptied
            and any(reason.what == "drained" for reason in tag.because)
        ),
        added=added,
        unit=unit if added is not None else None,
        level=now.level,
        level_needed=row.level_needed,
        settled=now.settled,
    )


def _fluid_meant(state: State, tag: str) -> FluidRow | None:
    """The fluid of a tag: the one that was drained, where several share the tag."""
    rows = state.rules.dangers.fluids_of(tag)
    drained = (row for row in rows if fluids.balance(state, row.fluid).emptied)
    return next(drained, rows[0] if rows else None)


def _unit_last_used(state: State, fluid: str) -> str | None:
    moves = state.fluids.about(fluid)
    return moves[-1].event.unit if moves else None
