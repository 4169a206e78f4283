"""Which steps of the card the job takes: branches taken, steps that apply, steps passed over.

Nothing of this is recorded. It follows from answers, readings and findings, so that a reading that
is corrected leads another way by itself.
"""

from __future__ import annotations

from collections.abc import Mapping

from companion.job.card import CardStep, Condition
from companion.job.cylinders import without_cylinder
from companion.job.events import FindingRecorded, Verdict
from companion.job.fits import lists
from companion.job.state import State
from companion.job.state_values import Fact, StepMark

_WORST_FIRST: tuple[Verdict, ...] = ("low", "high", "unknown", "in")
"""Which verdict of several cylinders decides: one that cannot be judged leaves it open."""


def applies(state: State, step: CardStep) -> bool | None:
    """Return whether a step applies; None where nobody knows yet.

    What the person said of it comes first, then the branches taken, then its own condition.
    """
    ruled = state.steps.get(step.name, StepMark()).applies
    if ruled is not None:
        return ruled
    if step.name in passed_by_branches(state):
        return False
    return True if step.only_if is None else holds(state, step.only_if, step)


def passed_by_branches(state: State) -> frozenset[str]:
    """Return the names of the steps that the branches taken so far lead past."""
    steps = () if state.card is None else state.card.step
    passed: set[str] = set()
    here = 0
    for index, step in enumerate(steps):
        if index < here or not step.branch:
            continue
        taken = branch_taken(state, step)
        names = [each.name for each in steps[index + 1 :]]
        if taken in names:
            # A branch leads forward only, which is checked when the card is loaded.
            here = index + 1 + names.index(taken)
            passed.update(names[: names.index(taken)])
    return frozenset(passed)


def branch_taken(state: State, step: CardStep) -> str | None:
    """Return where a step that is done leads by one of its branches, or None."""
    done = state.steps.get(step.name, StepMark()).done
    if done is None:
        return None
    return next(
        (
            branch.to
            for branch in step.branch
            if holds(state, branch.when, step, until=done) is True
        ),
        None,
    )


def holds(
    state: State, condition: Condition, step: CardStep, *, until: int | None = None
) -> bool | None:
    """Return whether a condition holds; None where nobody knows yet.

    Args:
        state: The job.
        condition: Of the step.
        step: Whose question is meant where the condition names none.
        until: Number of a record: what was called after it does not count, corrections of what was
            called before do.
    """
    if condition.answer is not None:
        answer = state.steps.get(condition.step or step.name, StepMark()).answer
        return None if answer is None else answer == condition.answer
    if condition.listed is not None:
        return None if state.sheet is None else lists(state.sheet, condition.listed)
    if condition.measure is not None:
        asked = (
            state.readings.about(measure)
            for measure in state.readings.names
            if condition.measure in (measure, without_cylinder(measure))
        )
        latest = [each[-1] if until is None else each.until(until) for each in asked]
        verdicts = {fact.event.verdict for fact in latest if fact is not None}
        # Of several cylinders the worst one counts.
        worst = next((each for each in _WORST_FIRST if each in verdicts), None)
        if worst is None:
            return False if until is None and _passed(state, condition.step) else None
        return None if worst == "unknown" else worst in condition.verdict
    if condition.part is not None and _found(state, condition.part, condition.found, until):
        return True
    looked = condition.step or (step.name if until is not None else None)
    done = looked is not None and state.steps.get(looked, StepMark()).done is not None
    return False if done or (until is None and _passed(state, looked)) else None


def _found(state: State, part: str, conditions: tuple[str, ...], until: int | None) -> bool:
    """Whether a part was found so by then."""
    first: Mapping[str, int] = state.findings.about(part).fold("first found", {}, _first_found)
    return any(
        until is None or place <= until
        for condition, place in first.items()
        if not conditions or condition in conditions
    )


def _first_found(first: Mapping[str, int], fact: Fact[FindingRecorded]) -> Mapping[str, int]:
    condition = fact.event.condition
    return first if condition in first else {**first, condition: fact.place}


def _passed(state: State, name: str | None) -> bool:
    """Whether a step is known not to apply: what it looks at is then not there to be found.

    The branches are not asked: they depend on this answer in turn.
    """
    steps = () if state.card is None else state.card.step
    step = next((each for each in steps if each.name == name), None)
    return step is not None and applies(state, step) is False


def in_words(condition: Condition) -> str:
    """Say a condition: "spark plug is fouled or worn", "compression is low"."""
    if condition.answer is not None:
        whose = (condition.step or "this step").replace("-", " ")
        return f"{whose} was answered {'yes' if condition.answer == 'affirm' else 'no'}"
    if condition.listed is not None:
        return f"the spec sheet lists {condition.listed}"
    if condition.measure is not None:
        return f"{condition.measure} is {' or '.join(condition.verdict)}"
    return f"{condition.part} is {' or '.join(condition.found) or 'not right'}"
