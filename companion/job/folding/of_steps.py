"""What the steps of the card and its cautions change."""

from __future__ import annotations

from companion.job import events as ev
from companion.job.folding.changes import Changes
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
    done = replace(mark, done=record.seq, skipped=None, reason=None)
    state = _ran_in_step(state, event.step, mark, record)
    return replace(state, steps={**state.steps, event.step: done}, last_call=record.seq)


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


def _step_skipped(state: State, event: ev.StepSkipped, record: Record) -> State:
    mark = state.steps.get(event.step, StepMark())
    skipped = replace(mark, skipped=record.seq, reason=event.reason)
    return replace(state, steps={**state.steps, event.step: skipped}, last_call=record.seq)


def _step_reopened(state: State, event: ev.StepReopened, record: Record) -> State:
    mark = state.steps.get(event.step, StepMark())
    reopened = replace(mark, skipped=None, reason=None)
    return replace(state, steps={**state.steps, event.step: reopened}, last_call=record.seq)


def _step_answered(state: State, event: ev.StepAnswered, record: Record) -> State:
    mark = state.steps.get(event.step, StepMark())
    answered = replace(mark, answer=event.answer)
    return replace(state, steps={**state.steps, event.step: answered}, last_call=record.seq)


def _step_ruled(state: State, event: ev.StepRuled, record: Record) -> State:
    mark = state.steps.get(event.step, StepMark())
    ruled = replace(mark, applies=event.applies)
    return replace(state, steps={**state.steps, event.step: ruled}, last_call=record.seq)


def _caution(state: State, event: ev.CautionSpoken, record: Record) -> State:
    return replace(state, cautions={**state.cautions, event.caution: record.seq})


CHANGES: Changes = {
    ev.StepEntered: _step_entered,
    ev.StepDone: _step_done,
    ev.StepSkipped: _step_skipped,
    ev.StepReopened: _step_reopened,
    ev.StepAnswered: _step_answered,
    ev.StepRuled: _step_ruled,
    ev.CautionSpoken: _caution,
}
"""What each kind of event of the card changes."""
