"""Where a job stands on its card: what a step still lacks, what comes next, what is left."""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from companion.grammar.plural import plural
from companion.handbook.units import to_si
from companion.intent.outcome import Expectation
from companion.job.card import CardStep, StepWindow, StepWork
from companion.job.cylinders import without_cylinder
from companion.job.events import AnyEvent, ReadingRecorded, Window, WorkRecorded
from companion.job.heat import hot_until, is_hot
from companion.job.route import applies, passed_by_branches
from companion.job.state import State
from companion.job.state_values import StepMark

Stage = Literal["done", "skipped", "not applying", "left"]
"""Where a step stands; every step of the card stands in one of these."""

STAYS_LEFT = frozenset({"no parts", "later"})
"""Reasons with which a skipped step is still to be done."""

FROM_CARD = "job card"
"""Source of a window that the card gives and the spec sheet does not."""


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


def stage(state: State, step: CardStep) -> Stage:
    """Return where a step stands. One that was put off, or lacks parts, is left."""
    if is_done(state, step.name):
        return "done"
    if is_skipped(state, step.name) and mark(state, step.name).reason not in STAYS_LEFT:
        return "skipped"
    return "not applying" if applies(state, step) is False else "left"


def awaits_answer(state: State) -> CardStep | None:
    """Return the current step if what it asks was not answered yet, or None."""
    step = current(state)
    if step is None or step.asks is None or is_finished(state, step):
        return None
    return step if mark(state, step.name).answer is None else None


def is_skipped(state: State, name: str) -> bool:
    """Return whether a step was knowingly skipped, for whatever reason."""
    return mark(state, name).skipped is not None


def is_finished(state: State, step: CardStep) -> bool:
    """Return whether nothing of a step is left to do."""
    return stage(state, step) != "left"


def is_passed(state: State, step: CardStep) -> bool:
    """Return whether a step is not come to again by going on: finished, or skipped for now."""
    return is_skipped(state, step.name) or is_finished(state, step)


def why_left(state: State, step: CardStep) -> str | None:
    """Return why a step is left, in words, where that is known."""
    if is_skipped(state, step.name):
        return mark(state, step.name).reason
    return "now" if state.step == step.name else None


def place(state: State, step: CardStep) -> int:
    """Return the place of a step on the card, from 1."""
    return all_steps(state).index(step) + 1


def neighbor(state: State, step: CardStep | None, by: int) -> CardStep | None:
    """Return the step so many places on, past those that do not apply; the first one where there
    is no step to go from.

    Args:
        state: The job.
        step: To go from; None for the beginning.
        by: How many places; back where negative.
    """
    steps = all_steps(state)
    index = 0 if step is None else steps.index(step) + by
    while step is not None and 0 <= index < len(steps):
        if stage(state, steps[index]) != "not applying":
            break
        index += 1 if by > 0 else -1
    return steps[index] if 0 <= index < len(steps) else None


def next_open(state: State, step: CardStep | None) -> CardStep | None:
    """Return the first step after this one that is not passed, or None."""
    steps = all_steps(state)
    after = steps if step is None else steps[steps.index(step) + 1 :]
    return next((other for other in after if not is_passed(state, other)), None)


def left_of(state: State, step: CardStep) -> tuple[str, ...]:
    """Return what a step still lacks: points not worked on, then readings not called.

    Only what was called since the step was first entered counts, so that a gap measured before the
    work does not stand for the gap after it.
    """
    entered = mark(state, step.name).entered
    since = state.seq if entered is None else entered
    called = [
        measure
        for measure in state.readings.names
        if any(state.readings.about(measure).after(since))
    ]
    read = {name for measure in called for name in (measure, without_cylinder(measure))}
    done = {
        tally.point: _done_since(state, tally.point, tally.count, since) for tally in step.tally
    }
    return (
        *(point for point in step.points if not any(state.work.about(point).after(since))),
        *(
            counted(tally.point, tally.count - done[tally.point])
            for tally in step.tally
            if done[tally.point] < tally.count
        ),
        *(measure for measure in step.expects if measure not in read),
    )


def _done_since(state: State, point: str, wanted: int, since: int) -> int:
    """How often a point was worked on; as often as needed where work on all of them was called."""
    done = 0
    for fact in state.work.about(point).after(since):
        done = wanted if fact.event.every else done + fact.event.count
        if done >= wanted:
            return done
    return done


def was_called(state: State, step: CardStep, work: StepWork) -> bool:
    """Return whether what a step does was called by itself since the step was first entered.

    Args:
        state: The job.
        step: The step.
        work: What it does.
    """
    entered = mark(state, step.name).entered
    since = state.seq if entered is None else entered
    calls = [
        fact.event
        for fact in state.work.about(work.part).after(since)
        if fact.event.action == work.action
    ]
    return any(call.every for call in calls) or sum(call.count for call in calls) >= work.count


def counted(name: str, count: int) -> str:
    """Say how many: "6 grease points"."""
    return f"{count} {name if count == 1 else plural(name) or name}"


def belongs_to(step: CardStep, event: AnyEvent) -> bool:
    """Return whether an event is about a point or an expected reading of a step."""
    if isinstance(event, WorkRecorded):
        return event.part in step.points or any(event.part == each.point for each in step.tally)
    if not isinstance(event, ReadingRecorded):
        return False
    return event.measure in step.expects or without_cylinder(event.measure) in step.expects


def steps_left(state: State) -> tuple[CardStep, ...]:
    """Return the steps that are left, in the order of the card."""
    return tuple(step for step in all_steps(state) if not is_finished(state, step))


def passed_over(state: State, step: CardStep | None, following: CardStep | None) -> tuple[str, ...]:
    """Return the names of the steps between that are passed over because their own condition is
    known not to hold; those that a branch leads past are not worth saying.

    Args:
        state: The job.
        step: The step that is left; None at the beginning.
        following: The step that is gone to; None at the end.
    """
    every = all_steps(state)
    begin = 0 if step is None else every.index(step) + 1
    end = len(every) if following is None else every.index(following)
    by_branch = passed_by_branches(state)
    return tuple(
        other.name
        for other in every[begin:end]
        if other.only_if is not None
        and other.name not in by_branch
        and stage(state, other) == "not applying"
        and mark(state, other.name).applies is None
    )


def left_words(state: State, step: CardStep) -> str:
    """Say a step that is left, and why: "spark plug, no parts"."""
    why = why_left(state, step)
    return in_words(step.name) if why in (None, "now") else f"{in_words(step.name)}, {why}"


def comes_before(state: State, step: CardStep) -> tuple[str, ...]:
    """Return the names of the steps that must come before this one and are left.

    Only steps that stand earlier on the card are asked for: a later one could never be reached.
    """
    earlier = all_steps(state)[: place(state, step) - 1]
    return tuple(
        other.name
        for other in earlier
        if other.name in step.after and not is_finished(state, other)
    )


def against_entering(state: State, step: CardStep, at: datetime) -> tuple[str, ...]:
    """Return what must be true before a step and is not known to be, in words.

    Args:
        state: The job.
        step: The step to be gone to.
        at: The time now.
    """
    return (
        *(f"{in_words(name)} is not done" for name in comes_before(state, step)),
        *(f"tag {tag} does not hang" for tag in step.needs if state.tag(tag) is None),
        *_engine_against(state, step, at),
    )


def _engine_against(state: State, step: CardStep, at: datetime) -> tuple[str, ...]:
    if step.engine == "running":
        # After an affirmed start the engine is being started; from then on it is called running or
        # stopped.
        starting = (state.start_affirmed or 0) > state.engine_started
        return () if state.engine_running or starting else ("the engine was not called running",)
    if step.engine is not None and state.engine_running:
        return ("the engine was called running",)
    if step.engine == "cold" and is_hot(state, at):
        return (still_hot(state, at),)
    return ()


def still_hot(state: State, at: datetime) -> str:
    """Say how much longer the engine is taken to be hot."""
    until = hot_until(state)
    if until is None:
        return "the engine was called running"
    minutes = max(1, -int((at - until).total_seconds() // 60))
    return f"the engine may be hot, {counted('minute', minutes)} to go"


def window_on_card(state: State, measure: str) -> Window | None:
    """Return what the card wants of a measure: that of the current step, else the only one."""
    measure = without_cylinder(measure)
    here = current(state)
    for step in (here,) if here is not None else ():
        for window in step.windows:
            if window.measure == measure:
                return _window(window)
    there = {
        window for step in all_steps(state) for window in step.windows if window.measure == measure
    }
    return _window(there.pop()) if len(there) == 1 else None


def expected_on_card(state: State) -> dict[str, Expectation]:
    """Return what the card expects of each measure that it has a window for, in SI."""
    expected = {}
    for measure in {window.measure for step in all_steps(state) for window in step.windows}:
        window = window_on_card(state, measure)
        if window is None:
            continue
        ends = [
            None if end is None else to_si(end, window.unit, ounce=state.ounce)
            for end in (window.low, window.high)
        ]
        low, high = (None if end is None else float(end[0]) for end in ends)
        unit = next(end[1] for end in ends if end is not None)
        expected[measure] = Expectation(low=low, high=high, unit=unit)
    return expected


def _window(window: StepWindow) -> Window:
    return Window(low=window.low, high=window.high, unit=window.unit, source=FROM_CARD)


def in_words(name: str) -> str:
    """Return a step's name as it is spoken."""
    return name.replace("-", " ")
