"""Conditions and branches of a card: each says one thing, about what the card knows."""

from __future__ import annotations

from collections.abc import Iterable

from companion.files.toml_lines import Location
from companion.job.card import CardStep, Condition
from companion.shelf.card_words import CardWords
from companion.shelf.fault import Fault
from companion.shelf.name_faults import no_step, said_faults, unknown_fault

KINDS = ("answer", "measure", "part", "listed")
"""What a condition may be about; one of them."""


def condition_faults(
    at: Location, index: int, condition: Condition, words: CardWords, *, own: str | None = None
) -> Iterable[Fault]:
    """Give what is wrong with a condition.

    Args:
        at: Where it stands.
        index: Place of its step, from 0.
        condition: The condition.
        words: What it may refer to.
        own: For a branch, the name of its own step, whose question is meant where none is named.
    """
    named = [key for key in KINDS if getattr(condition, key) is not None]
    if len(named) != 1:
        yield Fault(at, "a condition needs one of 'answer', 'measure', 'part' and 'listed'")
        return
    if condition.step is not None and condition.step not in words.place:
        yield no_step((*at, "step"), condition.step, words.place)
    elif condition.step is not None and words.place[condition.step] > index - (own is None):
        yield Fault((*at, "step"), f"'step' names '{condition.step}', which does not come before")
    if condition.measure is None and condition.verdict:
        yield Fault((*at, "verdict"), "'verdict' belongs to a 'measure'")
    if condition.part is None and condition.found:
        yield Fault((*at, "found"), "'found' belongs to a 'part'")
    match named[0]:
        case "answer":
            yield from _answer_faults(at, condition, words, own)
        case "measure":
            yield from measure_fault((*at, "measure"), condition.measure or "", words)
            if not condition.verdict:
                yield Fault(at, "a 'measure' needs its 'verdict': low, high or in")
        case "listed":
            # A card cannot know what sheets list; the name must only be sayable.
            yield from said_faults((*at, "listed"), condition.listed or "")
        case _:
            yield from part_fault((*at, "part"), condition.part or "", words)
            for place, found in enumerate(condition.found):
                yield from found_fault((*at, "found", place), found, words)


def branch_faults(at: Location, index: int, step: CardStep, words: CardWords) -> Iterable[Fault]:
    """Give what is wrong with the branches of a step.

    Args:
        at: Where the step stands in the file.
        index: Place of the step on the card, from 0.
        step: The step.
        words: What the card may refer to.
    """
    for number, branch in enumerate(step.branch):
        here: Location = (*at, "branch", number)
        if branch.to not in words.place:
            yield no_step((*here, "to"), branch.to, words.place)
        elif words.place[branch.to] <= index:
            yield Fault(
                (*here, "to"),
                f"'to' names '{branch.to}', which stands no later on the card: that goes in a ring",
            )
        yield from condition_faults((*here, "when"), index, branch.when, words, own=step.name)


def measure_fault(at: Location, name: str, words: CardWords) -> Iterable[Fault]:
    """Give a fault if a measure is not listened for.

    Args:
        at: Where the name stands in the file.
        name: Of the measure.
        words: What the card may refer to.
    """
    remedy = "list it under [[measure]] with a dimension"
    yield from unknown_fault(at, "measure", name, words.measures, remedy)


def part_fault(at: Location, name: str, words: CardWords) -> Iterable[Fault]:
    """Give a fault if a part is not listened for, or never could be.

    Args:
        at: Where the name stands in the file.
        name: Of the part.
        words: What the card may refer to.
    """
    cannot = [*said_faults(at, name)]
    yield from cannot or unknown_fault(at, "part", name, words.parts, "list it under [[part]]")


def found_fault(at: Location, name: str, words: CardWords) -> Iterable[Fault]:
    """Give a fault if a condition is not listened for, or never could be.

    Args:
        at: Where the name stands in the file.
        name: Of the condition.
        words: What the card may refer to.
    """
    remedy = "list it under [[condition]]"
    cannot = [*said_faults(at, name)]
    yield from cannot or unknown_fault(at, "condition", name, words.conditions, remedy)


def _answer_faults(
    at: Location, condition: Condition, words: CardWords, own: str | None
) -> Iterable[Fault]:
    whose = condition.step or own
    if whose is None:
        yield Fault(at, "an 'answer' needs the 'step' whose question is meant")
    elif whose in words.place and whose not in words.asking:
        yield Fault((*at, "answer"), f"the step '{whose}' asks nothing; give it 'asks'")
