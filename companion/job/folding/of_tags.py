"""What hanging and clearing a tag change, what a start does, and that the engine runs or stands."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta

from companion.job import events as ev
from companion.job.folding.changes import Changes
from companion.job.folding.of_facts import called, fact_of
from companion.job.order_of_time import in_order_of_time
from companion.job.record import Record
from companion.job.state import State, replace
from companion.job.state_values import Tag

STILL_WARM = timedelta(hours=1)
"""An engine started again within this time goes on from the heat of the run before; our own
figure."""


def _tag_hung(state: State, event: ev.TagHung, record: Record) -> State:
    if state.tag(event.tag) is None:
        state = replace(state, tags=(*state.tags, _tag(event, record.seq, record.at)))
    state = replace(state, tag_history=state.tag_history.followed_by(fact_of(event, record)))
    return called(state, fact_of(event, record)) if event.by == "voice" else state


def _tag(event: ev.TagHung, seq: int, at: datetime, session: str | None = None) -> Tag:
    return Tag(
        tag=event.tag,
        seq=seq,
        at=at,
        by=event.by,
        heard=event.heard,
        because=event.because,
        step=event.step,
        reason=event.reason,
        session=session,
    )


def _tag_cleared(state: State, event: ev.TagCleared, record: Record) -> State:
    # What hung the tag can no longer be disregarded: it was affirmed when the tag came down.
    undo = state.undo
    for entry in state.undo_tags.get(event.tag, ()):
        undo = undo.lacking(entry)
    return replace(
        state,
        tags=tuple(tag for tag in state.tags if tag.tag != event.tag),
        tag_history=state.tag_history.followed_by(fact_of(event, record)),
        cleared={**state.cleared, event.tag: record.seq},
        undo=undo,
        undo_tags={**state.undo_tags, event.tag: ()},
        last_call=record.seq,
    )


def merged_tags(state: State) -> tuple[tuple[Tag, ...], Mapping[str, int]]:
    """The tags that hang and those that came down, of this session and the others in order of
    time."""
    hanging: dict[str, Tag] = {}
    cleared = dict(state.cleared)
    for fact in in_order_of_time(state, state.tag_history):
        if isinstance(fact.event, ev.TagHung):
            tag = _tag(fact.event, fact.seq, fact.at, fact.session)
            hanging.setdefault(tag.tag, tag)
        elif isinstance(fact.event, ev.TagCleared):
            hanging.pop(fact.event.tag, None)
            cleared[fact.event.tag] = fact.seq
    return tuple(hanging.values()), cleared


def _engine_running(state: State, event: ev.EngineRunning, record: Record) -> State:
    still_warm = state.engine_ran is not None and record.at - state.engine_ran <= STILL_WARM
    ran_for = state.engine_ran_for if still_warm else timedelta(0)
    if not state.engine_running:
        state = replace(state, engine_since=record.at, engine_ran_for=ran_for)
    return replace(
        state,
        engine_running=True,
        engine_ran=record.at,
        engine_started=record.seq,
        last_call=record.seq,
    )


def _engine_stopped(state: State, event: ev.EngineStopped, record: Record) -> State:
    # Called stopped means that it ran until now, whether or not the running was called.
    ran_for = None
    if state.engine_running and state.engine_since is not None and state.engine_ran_for is not None:
        ran_for = state.engine_ran_for + max(timedelta(0), record.at - state.engine_since)
    return replace(
        state,
        engine_running=False,
        engine_ran=record.at,
        engine_since=None,
        engine_ran_for=ran_for,
        last_call=record.seq,
    )


CHANGES: Changes = {
    ev.TagHung: _tag_hung,
    ev.TagCleared: _tag_cleared,
    ev.EngineRunning: _engine_running,
    ev.EngineStopped: _engine_stopped,
}
"""What each event about the start and the engine changes; ``StartChecked`` is evidence only."""
