"""What speaks against a start, as a page shows it: also where a log is from a later version."""

from __future__ import annotations

from companion.handbook.units import UnknownUnit
from companion.job import gate
from companion.job.state import State, Tag

UNKNOWN_UNIT = (
    "a unit in the log is unknown to this version, so that a filling cannot be worked out"
)
"""Stands in the way of a start as well: what is not known is never clear."""


def reasons_by_tag(state: State) -> tuple[tuple[Tag, str], ...]:
    """Return the tags that hang, each with why it hangs as things stand."""
    try:
        return tuple((tag, gate.reason_now(state, tag)) for tag in state.tags)
    except UnknownUnit:
        return tuple((tag, tag.reason) for tag in state.tags)


def reasons_without_tag(state: State) -> tuple[str, ...]:
    """Return what speaks against a start though no tag hangs for it."""
    try:
        return gate.reasons_without_tag(state)
    except UnknownUnit:
        return (UNKNOWN_UNIT,)
