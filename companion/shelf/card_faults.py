"""What can be wrong with a job card beyond the types of its keys."""

from __future__ import annotations

from collections.abc import Iterable

from companion.files.limits import LARGEST_COUNT
from companion.files.toml_lines import Location
from companion.job.card import CardStep, JobCard
from companion.shelf.card_words import CardWords, hung_without_a_step, words_of
from companion.shelf.common import common_measures
from companion.shelf.condition_faults import (
    branch_faults,
    condition_faults,
    measure_fault,
    part_fault,
)
from companion.shelf.does_faults import does_faults, finds_faults
from companion.shelf.fault import Fault
from companion.shelf.name_faults import HYPHENATED, name_faults, said_faults, unknown_fault
from companion.shelf.order_faults import order_faults
from companion.shelf.window_faults import unit_fault, upside_down


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
    for place, kind in enumerate(card.fits.kinds):
        at: Location = ("fits", "kinds", place)
        if not kind.strip() or kind != " ".join(kind.lower().split()):
            yield Fault(at, f"'{kind}' must be lower-case words as a sheet's 'kind' has them")
        if kind in card.fits.kinds[:place]:
            yield Fault(at, f"'{kind}' is listed twice")
    words = words_of(card)
    # A step may also clear tags that calls hang, though no step before it hung them.
    hung: set[str] = set(hung_without_a_step())
    seen: dict[str, int] = {}
    for index, step in enumerate(card.step):
        hung.update(step.hangs)
        yield from _step_faults(index, step, words, hung)
        if step.name in seen:
            yield Fault(
                ("step", index, "name"),
                f"the name '{step.name}' is that of step {seen[step.name] + 1} already",
            )
        seen.setdefault(step.name, index)
    yield from order_faults(card.step)


def _step_faults(index: int, step: CardStep, words: CardWords, hung: set[str]) -> Iterable[Fault]:
    at: Location = ("step", index)
    if not HYPHENATED.fullmatch(step.name):
        yield Fault((*at, "name"), "'name' must be lower-case words with hyphens between them")
    for key in ("say", "asks"):
        text = getattr(step, key)
        if text is not None and not text.strip():
            yield Fault((*at, key), f"'{key}' is empty")
    for place, caution in enumerate(step.cautions):
        if not caution.strip():
            yield Fault((*at, "cautions", place), "the caution is empty")
    for key in ("spoken", "hangs", "clears", "needs", "points", "expects"):
        for place, said in enumerate(getattr(step, key)):
            if key == "spoken":
                yield from said_faults((*at, key, place), said)
            if said in getattr(step, key)[:place]:
                yield Fault((*at, key, place), f"'{said}' is listed twice")
    for key in ("hangs", "clears", "needs"):
        for place, tag in enumerate(getattr(step, key)):
            yield from _tag_faults((*at, key, place), tag, words)
    for key, what in (("clears", "before this step"), ("needs", "by this step")):
        for place, tag in enumerate(getattr(step, key)):
            if tag in words.tags and tag not in hung:
                yield Fault(
                    (*at, key, place),
                    f"nothing hangs the tag '{tag}' {what}; hang it in an earlier one",
                )
    if step.wait is not None:
        yield from said_faults((*at, "wait", "timer"), step.wait.timer)
        if not 0 < step.wait.minutes < float("inf"):
            yield Fault((*at, "wait", "minutes"), "'minutes' must be above zero")
        elif step.wait.minutes > LARGEST_COUNT:
            yield Fault(
                (*at, "wait", "minutes"), f"'minutes' must be {LARGEST_COUNT:,} at most, two years"
            )
    for place, measure in enumerate(step.expects):
        yield from measure_fault((*at, "expects", place), measure, words)
    for place, point in enumerate(step.points):
        yield from part_fault((*at, "points", place), point, words)
    yield from _window_faults(at, step, words)
    yield from _count_faults(at, step, words)
    yield from does_faults(at, step, words)
    yield from finds_faults(at, step, words)
    if step.only_if is not None:
        yield from condition_faults((*at, "only_if"), index, step.only_if, words)
    yield from branch_faults(at, index, step, words)


def _tag_faults(at: Location, tag: str, words: CardWords) -> Iterable[Fault]:
    cannot = [*said_faults(at, tag)]
    yield from cannot or unknown_fault(
        at, "tag", tag, words.tags, "list one of the card's own under [[tag]]"
    )


def _window_faults(at: Location, step: CardStep, words: CardWords) -> Iterable[Fault]:
    for place, window in enumerate(step.windows):
        here: Location = (*at, "windows", place)
        if window.measure not in step.expects:
            yield Fault(
                (*here, "measure"),
                f"'{window.measure}' has a window but the step does not expect it; list it there",
            )
        elif window.measure in words.measures:
            reason = unit_fault(window.measure, window.unit, words.measures[window.measure])
            if reason is not None:
                yield Fault((*here, "unit"), reason)
        if window.low is None and window.high is None:
            yield Fault(here, "the window has neither 'low' nor 'high'")
        reason = upside_down(window.low, window.high)
        if reason is not None:
            yield Fault((*here, "low"), reason)
        if window.measure in (other.measure for other in step.windows[:place]):
            yield Fault((*here, "measure"), f"'{window.measure}' has a window already")


def _count_faults(at: Location, step: CardStep, words: CardWords) -> Iterable[Fault]:
    for place, tally in enumerate(step.tally):
        here: Location = (*at, "tally", place)
        yield from part_fault((*here, "point"), tally.point, words)
        if tally.count < 1:
            yield Fault((*here, "count"), "'count' must be above zero")
        if tally.point in (*step.points, *(other.point for other in step.tally[:place])):
            yield Fault((*here, "point"), f"'{tally.point}' is listed twice")
    for place, part in enumerate(step.parts):
        here = (*at, "parts", place)
        yield from said_faults((*here, "name"), part.name)
        if part.count < 1:
            yield Fault((*here, "count"), "'count' must be above zero")
        if part.name in (other.name for other in step.parts[:place]):
            yield Fault((*here, "name"), f"the part '{part.name}' is listed twice")
    for place, what in enumerate(step.consumables):
        if not what.strip():
            yield Fault((*at, "consumables", place), "the consumable is empty")
