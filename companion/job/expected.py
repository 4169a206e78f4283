"""What a job expects of a call's value, for the decision whether to take it as it was heard."""

from __future__ import annotations

from dataclasses import replace

from companion.handbook.convert import plain
from companion.handbook.units import spoken
from companion.intent import intents as it
from companion.intent.outcome import Expectation, Listening
from companion.intent.tenfold import tenfold
from companion.intent.thresholds import DEFAULT
from companion.job import fill, judge, steps
from companion.job.cylinders import without_cylinder
from companion.job.read_before import usual_values
from companion.job.state import State
from companion.job.undo import correctable


def expectations(state: State) -> dict[str, Expectation]:
    """Return what is expected of each measure and fluid, in SI: what the sheet or else the card
    wants of it, and what was read last; of a fluid no more than there is room for."""
    expected = {
        **steps.expected_on_card(state),
        **judge.expectations(state.sheet, ounce=state.ounce),
    }
    expected.update(fill.expected_of_fluids(state))
    for measure in state.readings.names:
        # So that a correction of one cylinder is looked at as its reading was.
        known_as = without_cylinder(measure)
        if known_as in expected:
            expected.setdefault(measure, expected[known_as])
    for measure, (value, unit) in usual_values(state).items():
        known = expected.get(measure, Expectation(low=None, high=None, unit=unit))
        if known.unit == unit:
            expected[measure] = replace(known, usual=value)
    return expected


def awaited(state: State) -> frozenset[str]:
    """Return the names of the measures and parts that the current step waits for."""
    step = steps.current(state)
    if step is None:
        return frozenset()
    return frozenset(
        (
            *step.expects,
            *step.points,
            *(tally.point for tally in step.tally),
            *(part.name for part in step.parts),
        )
    )


def tenfold_words(state: State, candidates: tuple[it.Intent, ...]) -> str | None:
    """Say both values, where the first candidate is ten times off and the second is not.

    Returns:
        "That is ten times the usual: 300 or 30 thou?", or None where that is not the doubt.
    """
    if len(candidates) < 2:
        return None
    first, second = candidates[:2]
    name, unit = correctable(state) or (None, None)
    listening = Listening(
        ounce=state.ounce,
        expectations=expectations(state),
        correcting=name,
        correcting_unit=unit,
    )
    if tenfold(first, listening, DEFAULT) != second:
        return None
    quantities = it.Reading | it.Fluid | it.Correction
    assert isinstance(first, quantities)
    assert isinstance(second, quantities)
    off = "ten times" if abs(first.value) > abs(second.value) else "a tenth of"
    said = "" if second.unit is None else f" {spoken(second.unit, plural=second.value != 1)}"
    return f"That is {off} the usual: {plain(first.value)} or {plain(second.value)}{said}?"
