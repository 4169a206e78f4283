"""Where a job stands on its card: what a step still lacks, what comes next, what is left."""

from __future__ import annotations

from companion.job.card import CardStep
from companion.job.events import AnyEvent, ReadingRecorded, WorkRecorded
from companion.job.state import State, StepMark


def all_steps(state: State) -> tuple[CardStep, ...]:
    """Return the steps of the card; none without a card."""
    return () if state.card is None else state.card.step


def step_named(state: State, name: str | None) -> CardStep | None:
    """Return a step by its name, or None."""
    return next((step for step in all_steps(state) if step.name == name), None)


def current(state: State) -> CardStep | None:
    """Return the current step, or None."""
    return step_named(state, state.step)


def mark(state: State, name: str) -> StepMark:
    """Return how far a step is."""
    return state.steps.get(name, StepMark())


def is_done(state: State, name: str) -> bool:
    """Return whether a step was done."""
    return mark(state, name).done is not None


def is_settled(state: State, name: str) -> bool:
    """Return whether a step was done or knowingly skipped."""
    return is_done(state, name) or mark(state, name).skipped is not None


def place(state: State, step: CardStep) -> int:
    """Return the place of a step on the card, from 1."""
    return all_steps(state).index(step) + 1


def neighbor(state: State, step: CardStep | None, by: int) -> CardStep | None:
    """Return the step so many places on; the first one where there is no step to go from."""
    steps = all_steps(state)
    index = 0 if step is None else steps.index(step) + by
    return steps[index] if 0 <= index < len(steps) else None


def next_open(state: State, step: CardStep | None) -> CardStep | None:
    """Return the first step after this one that is neither done nor skipped, or None."""
    steps = all_steps(state)
    after = steps if step is None else steps[steps.index(step) + 1 :]
    return next((other for other in after if not is_settled(state, other.name)), None)


def left_of(state: State, step: CardStep) -> tuple[str, ...]:
    """Return what a step still lacks: its points not worked on, then its readings not called.

    Only what was called since the step was first entered counts, so that a gap measured before the
    work does not stand for the gap after it.
    """
    entered = mark(state, step.name).entered
    if entered is None:
        return (*step.points, *step.expects)
    worked = {fact.event.part for fact in state.effective(state.work) if fact.seq > entered}
    read = {fact.event.measure for fact in state.effective(state.readings) if fact.seq > entered}
    return (
        *(point for point in step.points if point not in worked),
        *(measure for measure in step.expects if measure not in read),
    )


def belongs_to(step: CardStep, event: AnyEvent) -> bool:
    """Return whether an event is about a point or an expected reading of a step."""
    if isinstance(event, WorkRecorded):
        return event.part in step.points
    return isinstance(event, ReadingRecorded) and event.measure in step.expects


def steps_left(state: State) -> tuple[CardStep, ...]:
    """Return the steps that are neither done nor skipped, in the order of the card."""
    return tuple(step for step in all_steps(state) if not is_settled(state, step.name))


def comes_before(state: State, step: CardStep) -> tuple[str, ...]:
    """Return the names of steps that must be done or skipped before this one may be entered.

    Only steps that stand earlier on the card are asked for: a later one could never be reached.
    """
    earlier = {other.name for other in all_steps(state)[: place(state, step) - 1]}
    return tuple(name for name in step.after if name in earlier and not is_settled(state, name))


def in_words(name: str) -> str:
    """Return a step's name as it is spoken."""
    return name.replace("-", " ")
