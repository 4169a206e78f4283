"""Which steps of the card the job takes: branches taken, steps that apply, steps passed over.

Nothing of this is recorded. It follows from answers, readings and findings, so that a reading that
is corrected leads another way by itself.
"""

from __future__ import annotations

from companion.job.card import CardStep, Condition
from companion.job.cylinders import without_cylinder
from companion.job.events import Verdict
from companion.job.fits import lists
from companion.job.state import State, StepMark

_WORST_FIRST: tuple[Verdict, ...] = ("low", "high", "unknown", "in")
"""What decides of several cylinders: one that nobody can judge leaves it open."""


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
    place = {step.name: index for index, step in enumerate(steps)}
    passed: set[str] = set()
    here = 0
    while here < len(steps):
        taken = branch_taken(state, steps[here]) if steps[here].branch else None
        to = place.get(taken or "", here + 1)
        passed.update(step.name for step in steps[here + 1 : to])
        # A branch leads forward only, which is checked when the card is loaded.
        here = max(to, here + 1)
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
        readings = [
            fact
            for fact in state.effective(state.readings)
            if condition.measure in (fact.event.measure, without_cylinder(fact.event.measure))
            and (until is None or fact.place <= until)
        ]
        readings.sort(key=lambda fact: fact.place)
        # Of several cylinders the worst one counts.
        latest = {fact.event.measure: fact.event.verdict for fact in readings}
        worst = next((each for each in _WORST_FIRST if each in latest.values()), None)
        if worst is None:
            return False if until is None and _passed(state, condition.step) else None
        return None if worst == "unknown" else worst in condition.verdict
    found = any(
        fact.event.part == condition.part
        and (not condition.found or fact.event.condition in condition.found)
        and (until is None or fact.place <= until)
        for fact in state.effective(state.findings)
    )
    if found:
        return True
    looked = condition.step or (step.name if until is not None else None)
    done = looked is not None and state.steps.get(looked, StepMark()).done is not None
    return False if done or (until is None and _passed(state, looked)) else None


def _passed(state: State, name: str | None) -> bool:
    """Whether a step is known not to apply: what it looks at is then not there to be found.

    Of branches this is never asked: it follows from them, and would go round in a ring.
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
