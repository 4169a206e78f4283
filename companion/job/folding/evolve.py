"""The state after one more record: a table of what each kind of event changes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from companion.job.folding import (
    of_facts,
    of_review,
    of_session,
    of_steps,
    of_tags,
    of_timers,
    sets,
)
from companion.job.folding.changes import Changes
from companion.job.folding.of_facts import counting, not_undone, with_facts
from companion.job.ledger import Ledger
from companion.job.record import Record
from companion.job.replacing import all_of
from companion.job.rules import Rules
from companion.job.state import State, Unshared, replace
from companion.job.state_values import Fact
from companion.job.uncollected import uncollected


def evolve(state: State, record: Record) -> State:
    """The state after one more record.

    Raises:
        CompanionError: If the card or sheet kept in the log cannot be read by this version.
    """
    change = _CHANGES.get(type(record.event))
    if record.event.reviewed is None:
        changed = state if change is None else change(state, record.event, record)
        if changed is state:
            return replace(state, seq=record.seq)
        # The state was made just now and nobody else has it yet, so that it can be changed in
        # place; a copy would cost as much again.
        object.__setattr__(changed, "seq", record.seq)
        return changed
    # At the bench a review is no call: its question is not the one that is open there, and neither
    # "correction" nor "disregard" means what it brought.
    kept: dict[str, Any] = {
        "question": state.question,
        "last_question": state.last_question,
        "last_call": state.last_call,
        "set_aside": state.set_aside,
    }
    changed = state if change is None else change(state, record.event, record)
    brought = changed.undo.at(record.seq, record.seq)
    return replace(changed, seq=record.seq, **kept, **not_undone(changed, brought))


def having_called(state: State, called: Mapping[str, Iterable[Fact[Any]]]) -> State:
    """Return a state of nothing that was called, with facts that count.

    Args:
        state: So far.
        called: By where a state keeps them.
    """
    for name, facts in called.items():
        if name == "tag_history":
            state = replace(state, tag_history=Ledger(facts))
            continue
        for fact in facts:
            state = with_facts(state, fact, counting(fact), True)
    return state


def fold(records: Iterable[Record], rules: Rules) -> State:
    """The state after all these records, from nothing, decided by these tables."""
    state: State = Unshared(rules)
    with uncollected():
        for record in records:
            state = evolve(state, record)
    return State(*all_of(state))


_CHANGES: Changes = {
    **sets.CHANGES,
    **of_session.CHANGES,
    **of_facts.CHANGES,
    **of_timers.CHANGES,
    **of_tags.CHANGES,
    **of_steps.CHANGES,
    **of_review.CHANGES,
}
"""What each kind of event changes; one that stands in no table changes nothing."""
