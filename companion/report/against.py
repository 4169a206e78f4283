"""Why the engine must not be started, as a page shows it; also for logs of later versions."""

from __future__ import annotations

from collections.abc import Iterable

from companion.handbook.units import UnknownUnit
from companion.job import events as ev
from companion.job import gate
from companion.job.reason import Checked
from companion.job.record import Record
from companion.job.state import State
from companion.job.state_values import Tag
from companion.speak.reason_words import (
    NEVER_CHECKED,
    reason_lines,
    reasons_words,
    unknown_words,
)

UNKNOWN_UNIT = (
    "a unit in the log is unknown to this version, so that a filling cannot be worked out"
)
"""Also holds the start: what is not known is never clear."""


def reasons_by_tag(state: State) -> tuple[tuple[Tag, str], ...]:
    """Return the tags that hang, each with why it hangs as things stand."""
    return tuple((tag, why_it_hangs(state, tag)) for tag in state.tags)


def why_it_hangs(state: State, tag: Tag) -> str:
    """Return why a tag hangs, in words."""
    try:
        return reasons_words(gate.reasons_of_tag(state, tag), dated=True)
    except UnknownUnit:
        return reasons_words(tag.because, dated=True) or tag.reason or "hung by a call"


def reasons_without_tag(state: State) -> tuple[str, ...]:
    """Return what speaks against a start though no tag hangs for it."""
    try:
        return reason_lines(gate.reasons_without_tag(state), dated=True)
    except UnknownUnit:
        return (UNKNOWN_UNIT,)


def not_checked(records: Iterable[Record]) -> tuple[str, ...]:
    """Return what the start gate did not check when it was last asked."""
    checks = [record.event for record in records if type(record.event) is ev.StartChecked]
    if not checks:
        return ()
    return checks[-1].not_checked if checks[-1].known is None else unknown(checks[-1].known)


def not_checked_by_shop(records: Iterable[Record]) -> tuple[str, ...]:
    """Return the same for an owner, who knows nothing of the steps of a card."""
    return tuple(each for each in not_checked(records) if not each.endswith("of the card"))


def unknown(known: Checked) -> tuple[str, ...]:
    """Return what calls do not tell before a start."""
    return (*unknown_words(known), *NEVER_CHECKED)
