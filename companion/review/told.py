"""What is read back of a review, in words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from companion.grammar.compiled import CallGrammar
from companion.intent.outcome import Decision
from companion.intent.suggested import take_instead
from companion.job import events as ev
from companion.job.events import AnyEvent
from companion.job.review_turn import Change
from companion.job.reviewed_call import ReviewedCall
from companion.job.state import State
from companion.speak.worded.table import event_line
from companion.speak.wording import word


def told(events: Iterable[AnyEvent]) -> tuple[AnyEvent, ...]:
    """The events that are read back: without the questions, which were put and answered before, and
    without a tag that hung and came down again."""
    events = tuple(events)
    down = {each.tag for each in events if isinstance(each, ev.TagCleared)}
    return tuple(
        each
        for each in events
        if not isinstance(each, ev.Asked | ev.Answered)
        and not (isinstance(each, ev.TagHung) and each.tag in down)
    )


def readback(state: State, events: Sequence[AnyEvent]) -> str:
    """Return what is said of these events; empty where nothing is.

    Args:
        state: After them.
        events: What was recorded.
    """
    reply = word(state, events, ())
    return "" if reply is None else reply.whole


def besides(call: ReviewedCall, change: Change, before: State) -> str:
    """Return what a correction leaves as it was, in sentences that follow the readback; empty where
    nothing is.

    Args:
        call: That is corrected.
        change: What is recorded for it.
        before: The state before it.
    """
    said = ""
    if call.fact is None and call.taken_back(before) is not None:
        said = " A later call took back what it recorded, and that stands."
    if change.stays:
        stays = "; ".join(event_line(event) for event in change.stays)
        said += f" What it did at the bench stays: {stays}."
    return said


def why_not_understood(decision: Decision, grammar: CallGrammar) -> str:
    """Say in one sentence why a text is no call."""
    reason = "; ".join(decision.reasons) or "no call is like this"
    take = take_instead(decision, None, grammar)
    # Where the sentence says how far the text was understood, that is enough.
    near = f"; near to it: {', '.join(take)}" if take and "as far as" not in reason else ""
    return f"That is no call as it stands: {reason}{near}."
