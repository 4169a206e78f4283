"""What whoever looks a job over afterwards changes."""

from __future__ import annotations

from companion.job import events as ev
from companion.job.folding.changes import Changes
from companion.job.folding.of_facts import fact_of
from companion.job.record import Record
from companion.job.state import State, replace
from companion.job.state_values import Review


def _reviewed(state: State, event: ev.Reviewed, record: Record) -> State:
    review = Review(record.seq, record.at, event, bool(state.signed_off))
    return replace(state, reviews=state.reviews.followed_by(review))


def _signed_off(state: State, event: ev.SignedOff, record: Record) -> State:
    return replace(state, signed_off=(*state.signed_off, fact_of(event, record)))


CHANGES: Changes = {
    ev.Reviewed: _reviewed,
    ev.SignedOff: _signed_off,
}
"""What each kind of event after the job changes."""
