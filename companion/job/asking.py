"""Calls that only ask: what was recorded, and what the sheet says."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from companion.job import asking_fluids, steps, timers
from companion.job.answers import (
    Answer,
    Nothing,
    NotReadYet,
    ReadBackList,
    ReadBackReading,
    SayAgain,
    SpecSaid,
    TimeLeft,
)
from companion.job.card import CardStep
from companion.job.cylinders import without_cylinder
from companion.job.judge import spec_of, window_of
from companion.job.lines import line, named, spaced
from companion.job.read_before import earlier_past, last_past
from companion.job.state import State
from companion.job.state_values import Fact, Timer
from companion.job.turn import Turn


def say_again(turn: Turn) -> None:
    """Repeat what was said last."""
    said = turn.state.last_said
    turn.answer(SayAgain(said) if said else Nothing("Nothing was said yet."))


def time_left(turn: Turn, name: str | None) -> None:
    """Say the time left of one timer, or of all."""
    running = timers.by_deadline(turn.state)
    if name is not None:
        meant = timers.timer_meant(turn.state, name)
        if meant is None and running:
            turn.answer(Nothing(f"No {named(name)} runs."))
            return
        running = () if meant is None else (meant,)
    turn.answer(all_left(turn, running) if running else Nothing("No timer runs."))


def all_left(turn: Turn, running: tuple[Timer, ...]) -> TimeLeft:
    """Return the time left of these timers."""
    return TimeLeft(tuple((timer.name, timers.seconds_left(timer, turn.at)) for timer in running))


def spec(turn: Turn, measure: str) -> None:
    """Say what the sheet wants of a measure."""
    found = spec_of(turn.state.sheet, measure)
    engine = f"engine {found.engine}" if found is not None and found.engine else None
    how = (engine, found.condition if found is not None else None)
    condition = ", ".join(each for each in how if each)
    window = window_of(found) or steps.window_on_card(turn.state, measure)
    last = last_past(turn.state, measure, turn.at) if window is None else None
    turn.answer(SpecSaid(measure, window, condition, last))


def read_back(turn: Turn, subject: str) -> None:
    """Read back a list, a measure or a fluid."""
    state = turn.state
    if subject == "serial number":
        known = state.serial or (state.sheet.identification.serial if state.sheet else None)
        said = f"Serial number {spaced(known)}." if known else "No serial number recorded yet."
        turn.answer(Nothing(said))
        return
    if subject in ("step parts", "job parts"):
        turn.answer(parts_of_card(state, whole_job=subject == "job parts"))
        return
    listed = _list(state, subject)
    if listed is not None:
        turn.answer(
            ReadBackList(subject, listed) if listed else Nothing(f"No {subject} recorded yet.")
        )
        return
    latest = {
        measure: state.readings.about(measure)[-1]
        for measure in state.readings.names
        if subject in (measure, without_cylinder(measure))
    }
    if len(latest) > 1:
        turn.answer(ReadBackList(subject, tuple(line(each.event) for each in latest.values())))
        return
    reading = next(iter(latest.values()), None)
    before = earlier_past(state, subject, turn.at)
    if reading is not None:
        event = reading.event
        turn.answer(ReadBackReading(event.measure, event.value, event.unit, event.verdict, before))
        return
    if before is not None:
        turn.answer(NotReadYet(subject, before))
        return
    turn.answer(asking_fluids.totals(state, subject) or Nothing(f"No {subject} recorded yet."))


def parts_of_card(state: State, *, whole_job: bool) -> Answer:
    """Return the parts and consumables that the current step takes, or those of all steps left."""
    here = steps.current(state)
    wanted = steps.steps_left(state) if whole_job else (here,) if here is not None else ()
    counts: dict[str, int] = {}
    for part in (part for step in wanted for part in step.parts):
        counts[part.name] = counts.get(part.name, 0) + part.count
    used = dict.fromkeys(each for step in wanted for each in step.consumables)
    lines = (*(steps.counted(name, count) for name, count in counts.items()), *used)
    where = "the steps left" if whole_job else "this step"
    return ReadBackList(f"parts for {where}", lines) if lines else Nothing(f"No parts for {where}.")


def _list(state: State, subject: str) -> tuple[str, ...] | None:
    match subject:
        case "parts":
            return (*_lines(state, state.parts_needed), *_lines(state, state.parts_used))
        case "findings":
            return _lines(state, state.findings)
        case "work":
            return _lines(state, state.work)
        case "follow ups":
            return tuple(fact.event.part for fact in state.effective(state.follow_ups))
        case "fluids":
            return _lines(state, state.fluids)
        case "readings":
            return _latest_readings(state)
        case "timers":
            return tuple(named(timer.name) for timer in timers.by_deadline(state))
        case "steps":
            return tuple(
                f"{steps.in_words(step.name)} {_how_far(state, step)}"
                for step in steps.all_steps(state)
            )
    return None


def _lines(state: State, facts: Sequence[Fact[Any]]) -> tuple[str, ...]:
    return tuple(line(fact.event) for fact in state.effective(facts))


def _latest_readings(state: State) -> tuple[str, ...]:
    """The latest of each measure, in the order in which the measures were first called."""
    readings = state.readings
    return tuple(line(readings.about(measure)[-1].event) for measure in readings.names)


def _how_far(state: State, step: CardStep) -> str:
    where = steps.stage(state, step)
    if where != "left":
        return "not needed" if steps.mark(state, step.name).reason == "not needed" else where
    return steps.why_left(state, step) or "left"
