"""What can be wrong with a job card beyond the types of its keys."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from companion.job.card import CardStep, JobCard
from companion.job.name_faults import HYPHENATED, name_faults, said_faults
from companion.job.tags import TAGS
from companion.job.toml_file import Fault
from companion.job.toml_lines import Location
from companion.job.words import common_measures

HUNG_WITHOUT_A_STEP = frozenset(TAGS)
"""Tags that calls hang by themselves or that hang on any job, so that a step may clear them."""


def card_faults(card: JobCard) -> Iterable[Fault]:
    """Give everything that is wrong with a card whose keys and types are right."""
    if not HYPHENATED.fullmatch(card.name):
        yield Fault(("name",), "'name' must be lower-case words with hyphens between them")
    if not card.step:
        yield Fault((), "the card has no [[step]]")
    for table in ("measure", "fluid", "part", "condition", "tag", "timer"):
        named = [
            (term.name, term.spoken, getattr(term, "plural", ())) for term in getattr(card, table)
        ]
        yield from name_faults(table, named)
    common = common_measures()
    for index, measure in enumerate(card.measure):
        wanted = common.get(measure.name, measure.dimension)
        if wanted != measure.dimension:
            yield Fault(
                ("measure", index, "dimension"), f"'{measure.name}' is measured in {wanted}"
            )
    measures = {*common, *(measure.name for measure in card.measure)}
    hung: set[str] = set(HUNG_WITHOUT_A_STEP)
    seen: dict[str, int] = {}
    for index, step in enumerate(card.step):
        hung.update(step.hangs)
        yield from _step_faults(index, step, measures, hung)
        if step.name in seen:
            yield Fault(
                ("step", index, "name"),
                f"the name '{step.name}' is that of step {seen[step.name] + 1} already",
            )
        seen.setdefault(step.name, index)
    yield from _order_faults(card.step)


def _step_faults(index: int, step: CardStep, measures: set[str], hung: set[str]) -> Iterable[Fault]:
    at: Location = ("step", index)
    if not HYPHENATED.fullmatch(step.name):
        yield Fault((*at, "name"), "'name' must be lower-case words with hyphens between them")
    if not step.say.strip():
        yield Fault((*at, "say"), "'say' is empty")
    for place, caution in enumerate(step.cautions):
        if not caution.strip():
            yield Fault((*at, "cautions", place), "the caution is empty")
    for key in ("hangs", "clears", "points"):
        for place, words in enumerate(getattr(step, key)):
            yield from said_faults((*at, key, place), words)
            if words in getattr(step, key)[:place]:
                yield Fault((*at, key, place), f"'{words}' is listed twice")
    for place, tag in enumerate(step.clears):
        if tag not in hung:
            yield Fault(
                (*at, "clears", place),
                f"nothing hangs the tag '{tag}' before this step; hang it in an earlier one",
            )
    if step.wait is not None:
        yield from said_faults((*at, "wait", "timer"), step.wait.timer)
        if not 0 < step.wait.minutes < float("inf"):
            yield Fault((*at, "wait", "minutes"), "'minutes' must be above zero")
    for place, measure in enumerate(step.expects):
        if measure not in measures:
            yield Fault(
                (*at, "expects", place),
                f"the measure '{measure}' is not known; list it under [[measure]] with a dimension",
            )


def _order_faults(steps: Sequence[CardStep]) -> Iterable[Fault]:
    place = {step.name: index for index, step in reversed(list(enumerate(steps)))}
    for index, step in enumerate(steps):
        for number, name in enumerate(step.after):
            at: Location = ("step", index, "after", number)
            if name not in place:
                yield Fault(at, f"'after' names '{name}', which is no step of this card")
            elif _comes_after(steps, place, start=name, sought=step.name):
                yield Fault(at, f"'{step.name}' and '{name}' wait for each other")
            elif place[name] > index:
                yield Fault(
                    at, f"'after' names '{name}', which stands later on the card; move it up"
                )


def _comes_after(
    steps: Sequence[CardStep], place: dict[str, int], *, start: str, sought: str
) -> bool:
    """Whether one step waits, directly or through others, for the one sought."""
    waiting, seen = [start], set[str]()
    while waiting:
        name = waiting.pop()
        if name == sought:
            return True
        if name in place and name not in seen:
            seen.add(name)
            waiting.extend(steps[place[name]].after)
    return False
