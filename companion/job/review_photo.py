"""Photos after the job: one that does not belong there is set aside, or moved to another step.

As everywhere nothing is taken out of the log, and no file is touched: a photo that is moved gets a
new record with the other step, and the record before no longer counts.
"""

from __future__ import annotations

from collections.abc import Sequence

from companion.job import events as ev
from companion.job.record import Record
from companion.job.review_turn import Change, Looked, NotReviewed, ReviewTurn
from companion.job.reviewed_call import ReviewedCall
from companion.job.state import State


def is_photo(records: Sequence[Record], number: int) -> bool:
    """Whether a record is that of a photo.

    Args:
        records: All of the log, in order.
        number: Of the record.
    """
    within = 1 <= number <= len(records)
    return within and isinstance(records[number - 1].event, ev.PhotoAdded)


def set_photo_aside(state: State, photo: Record, looked: Looked) -> Change:
    """Let a photo not count.

    Args:
        state: Before, with all of the log taken in.
        photo: Its record.
        looked: Who, when and why.

    Raises:
        NotReviewed: If it does not count already.
    """
    turn = _left_out(state, photo, looked)
    return Change(tuple(turn.events), (), turn.state)


def move_photo(state: State, photo: Record, step: str, looked: Looked) -> Change:
    """Let a photo stand at another step.

    Args:
        state: Before, with all of the log taken in.
        photo: Its record.
        step: Name of the step of the card; empty for none.
        looked: Who, when and why.

    Raises:
        NotReviewed: If it does not count, stands there already, or the card has no such step.
    """
    event = photo.event
    assert isinstance(event, ev.PhotoAdded), "it is the record of a photo"
    names = [] if state.card is None else [each.name for each in state.card.step]
    if step and step not in names:
        raise NotReviewed("The card has no such step; choose one of those in the list.")
    if step == (event.step or ""):
        raise NotReviewed("The photo stands there already.")
    turn = _left_out(state, photo, looked)
    turn.record(event.model_copy(update={"step": step or None}))
    return Change(tuple(turn.events), (), turn.state)


def _left_out(state: State, photo: Record, looked: Looked) -> ReviewTurn:
    if photo.seq in state.superseded:
        raise NotReviewed("That photo does not count already.")
    turn = ReviewTurn(state, looked, ReviewedCall(photo.seq, None, photo, ()))
    turn.judge("set-aside")
    turn.record(ev.Disregarded(record=photo.seq))
    return turn
