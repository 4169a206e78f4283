"""What facts change, what stands in their place, and what can be disregarded."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from companion.job import events as ev
from companion.job.folding.changes import Changes
from companion.job.ledger import Facts
from companion.job.record import Record
from companion.job.slim import slim
from companion.job.state import KEPT_IN, State, replace
from companion.job.state_values import Fact, Kept, Mixed, Timer, Undoable


def fact_of(event: Kept, record: Record) -> Fact[Kept]:
    """Return what a record is, in its own place."""
    return Fact(record.seq, record.at, event, record.seq)


def called(state: State, fact: Fact[Any], timer: Timer | None = None) -> State:
    """Note that a call recorded this, so that "correction" and "disregard" can refer to it.

    Args:
        state: So far.
        fact: What was recorded.
        timer: The timer that it stopped, or None.
    """
    entry = Undoable(fact, timer)
    state = replace(state, undo=state.undo.having(entry), last_call=fact.seq)
    if not isinstance(fact.event, ev.TagHung):
        return state
    tag = fact.event.tag
    hung = (*state.undo_tags.get(tag, ()), entry)
    return replace(state, undo_tags={**state.undo_tags, tag: hung})


def not_undone(state: State, entry: Undoable | None) -> dict[str, Any]:
    """What can be disregarded, without this."""
    if entry is None:
        return {"undo": state.undo, "undo_tags": state.undo_tags}
    tags = state.undo_tags
    if isinstance(entry.fact.event, ev.TagHung):
        tag = entry.fact.event.tag
        left = tuple(other for other in tags.get(tag, ()) if other is not entry)
        tags = {**tags, tag: left}
    return {"undo": state.undo.lacking(entry), "undo_tags": tags}


_MIXED: Mapping[str, str] = {
    "work": "of_parts",
    "findings": "of_parts",
    "fluids": "of_fluids",
    "levels": "of_fluids",
}
"""Where what counts of a kind is kept together with another."""


def _kept(state: State, event: ev.Correctable, record: Record) -> State:
    """Keep a fact among its kind, in its place; what it corrects no longer counts."""
    corrects = event.corrects
    # A fact that corrects no earlier record stays in its own place; the log check reports it.
    if corrects is not None and corrects < record.seq:
        superseded = state.superseded
        if corrects not in superseded:
            superseded = superseded.having(corrects, "corrected")
        state = replace(
            state,
            superseded=superseded,
            corrections=state.corrections.having(record.seq, corrects),
            places=state.places.having(record.seq, state.place(corrects)),
        )
        state = _counting_anew(state, corrects)
    place = state.place(record.seq)
    slim(event)
    fact = Fact(record.seq, _called_at(state, event, record), event, place)
    counts = record.seq not in state.superseded
    state = with_facts(state, fact, lambda facts: facts.with_fact(fact, counts=counts), counts)
    by = getattr(event, "by", "voice")
    return called(state, fact) if by == "voice" else state


def with_facts(
    state: State,
    fact: Fact[Any],
    change: Callable[[Facts[Fact[Any]]], Facts[Fact[Any]]],
    counts: bool,
) -> State:
    """Change the facts of a kind, and what counts of two kinds together.

    Args:
        state: So far.
        fact: The one that comes, or comes to count or not to.
        change: Gives the facts of its kind with that change.
        counts: Whether the fact counts after it.
    """
    name = KEPT_IN[type(fact.event)]
    changed: dict[str, Any] = {name: change(getattr(state, name))}
    mixed = _MIXED.get(name)
    if mixed is not None:
        together: Mixed = getattr(state, mixed)
        changed[mixed] = together.having(fact) if counts else together.lacking(fact)
    return replace(state, **changed)


def _counting_anew(state: State, *seqs: int) -> State:
    """The same state, with these records among those that count if they do, and not otherwise."""
    for seq in seqs:
        fact = state.fact(seq)
        if fact is None:
            continue
        facts: Facts[Fact[Any]] = getattr(state, KEPT_IN[type(fact.event)])
        counted = facts.counting.at(fact.place, seq) is not None
        if seq not in state.superseded and not counted:
            state = with_facts(state, fact, _counted(fact), True)
        elif seq in state.superseded and counted:
            state = with_facts(state, fact, _discounted(fact), False)
    return state


def counting(fact: Fact[Any]) -> Callable[[Facts[Fact[Any]]], Facts[Fact[Any]]]:
    """Return what puts a fact among those of its kind, as one that counts."""
    return lambda facts: facts.with_fact(fact, counts=True)


def _counted(fact: Fact[Any]) -> Callable[[Facts[Fact[Any]]], Facts[Fact[Any]]]:
    return lambda facts: facts.counted(fact)


def _discounted(fact: Fact[Any]) -> Callable[[Facts[Fact[Any]]], Facts[Fact[Any]]]:
    return lambda facts: facts.discounted(fact)


def _called_at(state: State, event: ev.Correctable, record: Record) -> datetime:
    """When the call was made that a fact is of."""
    if event.reviewed is None:
        return record.at
    reviewed = next((each for each in reversed(state.reviews) if each.seq == event.reviewed), None)
    return record.at if reviewed is None else reviewed.event.called or record.at


def _disregarded(state: State, event: ev.Disregarded, record: Record) -> State:
    entry = state.undo.at(event.record, event.record)
    superseded = state.superseded.having(event.record, "disregarded")
    changed = [event.record]
    if event.restores is not None:
        superseded = superseded.lacking(event.restores)
        changed.append(event.restores)
        corrected = state.corrections.get(event.restores)
        if corrected is not None and corrected not in superseded:
            superseded = superseded.having(corrected, "corrected")
            changed.append(corrected)
    state = replace(
        state,
        superseded=superseded,
        set_aside=None if entry is None else entry.fact,
        last_call=record.seq,
        **not_undone(state, entry),
    )
    state = _counting_anew(state, *changed)
    return state if entry is None else _timer_disregarded(state, entry)


def _timer_disregarded(state: State, entry: Undoable) -> State:
    """Undo the starting or the stopping of a timer; other entries leave the timers alone."""
    timers = dict(state.timers)
    event = entry.fact.event
    if isinstance(event, ev.TimerStarted):
        timer = timers.get(event.name)
        if timer is None or timer.seq != entry.fact.seq:
            return state
        del timers[event.name]
        if timer.replaced is not None:
            timers[event.name] = timer.replaced
    elif isinstance(event, ev.TimerCancelled) and entry.timer is not None:
        timers.setdefault(event.name, entry.timer)
    return replace(state, timers=timers)


CHANGES: Changes = {
    **dict.fromkeys(KEPT_IN, _kept),
    ev.Disregarded: _disregarded,
}
"""What each kind of fact changes, and that one does not count."""
