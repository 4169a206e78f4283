"""What the steps of the card and its cautions change."""

from __future__ import annotations

from companion.job import events as ev
from companion.job.folding.changes import Changes
from companion.job.folding.sets import MARKS
from companion.job.record import Record
from companion.job.state import State, replace
from companion.job.state_values import StepMark
from companion.job.warming import runs_engine, runs_for


def _step_entered(state: State, event: ev.StepEntered, record: Record) -> State:
    mark = state.steps.get(event.step, StepMark())
    if mark.entered is None:
        mark = replace(mark, entered=record.seq)
    return replace(
        state,
        step=event.step,
        step_by=event.by,
        step_entered=record.seq,
        steps={**state.steps, event.step: mark},
        last_call=record.seq,
    )


def _step_done(state: State, event: ev.StepDone, record: Record) -> State:
    mark = state.steps.get(event.step, StepMark())
    marked = _step_marked(state, event, record)
    return _ran_in_step(marked, event.step, mark, record)


def _step_marked(
    state: State,
    event: ev.StepDone | ev.StepSkipped | ev.StepReopened | ev.StepAnswered | ev.StepRuled,
    record: Record,
) -> State:
    mark = state.steps.get(event.step, StepMark())
    marked = replace(mark, **MARKS[type(event)].fields_of(record))
    return replace(state, steps={**state.steps, event.step: marked}, last_call=record.seq)


def _ran_in_step(state: State, name: str, mark: StepMark, record: Record) -> State:
    """An engine that a step ran is hot, though nobody called it running."""
    step = (
        next((each for each in state.card.step if each.name == name), None) if state.card else None
    )
    if step is None or not runs_engine(step) or state.engine_running:
        return state
    if mark.entered is not None and state.engine_started > mark.entered:
        return state
    return replace(
        state,
        engine_ran=record.at,
        engine_started=record.seq,
        engine_since=None,
        engine_ran_for=runs_for(step),
    )


def _caution(state: State, event: ev.CautionSpoken, record: Record) -> State:
    return replace(state, cautions={**state.cautions, event.caution: record.seq})


CHANGES: Changes = {
    ev.StepEntered: _step_entered,
    **dict.fromkeys(MARKS, _step_marked),
    ev.StepDone: _step_done,
    ev.CautionSpoken: _caution,
}
"""What each kind of event of the card changes."""
