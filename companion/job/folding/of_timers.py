"""What the timers change."""

from __future__ import annotations

from collections.abc import Mapping

from companion.job import events as ev
from companion.job.folding.changes import Changes
from companion.job.folding.of_facts import called, fact_of
from companion.job.record import Record
from companion.job.state import State, replace
from companion.job.state_values import Timer


def _timer_started(state: State, event: ev.TimerStarted, record: Record) -> State:
    replaced = state.last_cancelled
    if replaced is not None and (event.replaces is None or replaced.seq != event.replaces):
        replaced = None
    if replaced is not None:
        # One step back is enough, and keeps states of long jobs small.
        replaced = replace(replaced, replaced=None)
    timer = Timer(record.seq, event.name, event.seconds, event.due, replaced=replaced)
    state = replace(state, timers={**state.timers, event.name: timer})
    return called(state, fact_of(event, record)) if event.by == "voice" else state


def _timer_rang(state: State, event: ev.TimerRang, record: Record) -> State:
    question = state.question
    if question is not None:
        state = replace(state, question=replace(question, interrupted=True))
    timer = state.timers.get(event.name)
    if timer is None:
        return state
    rung = replace(timer, rings=event.count, rang=record.at)
    return replace(state, timers={**state.timers, event.name: rung})


def _elsewhere_rang(state: State, event: ev.ElsewhereRang, record: Record) -> State:
    question = state.question
    if question is None:
        return state
    return replace(state, question=replace(question, interrupted=True))


def _timer_acknowledged(state: State, event: ev.TimerAcknowledged, record: Record) -> State:
    return replace(state, timers=_without(state.timers, event.name))


def _timer_cancelled(state: State, event: ev.TimerCancelled, record: Record) -> State:
    timer = state.timers.get(event.name)
    state = replace(state, timers=_without(state.timers, event.name), last_cancelled=timer)
    return state if event.replaced else called(state, fact_of(event, record), timer)


def _without(timers: Mapping[str, Timer], name: str) -> Mapping[str, Timer]:
    return {other: timer for other, timer in timers.items() if other != name}


CHANGES: Changes = {
    ev.TimerStarted: _timer_started,
    ev.TimerRang: _timer_rang,
    ev.ElsewhereRang: _elsewhere_rang,
    ev.TimerAcknowledged: _timer_acknowledged,
    ev.TimerCancelled: _timer_cancelled,
}
"""What each kind of event of a timer changes; ``ElsewhereAcknowledged`` changes nothing."""
