"""What a step does to parts and what an answer means: each can be called, and is about a part that
is listened for."""

from __future__ import annotations

from collections.abc import Iterable

from companion.files.toml_lines import Location
from companion.job.card import CardStep
from companion.shelf.card_words import CardWords, actions
from companion.shelf.condition_faults import found_fault, part_fault
from companion.shelf.fault import Fault
from companion.shelf.name_faults import unknown_fault


def does_faults(at: Location, step: CardStep, words: CardWords) -> Iterable[Fault]:
    """Give what is wrong with what a step does.

    What it does must be callable too: by such a call it is done without the step, or taken back.

    Args:
        at: Where the step stands in the file.
        step: The step.
        words: What the card may refer to.
    """
    for place, work in enumerate(step.does):
        here: Location = (*at, "does", place)
        said_of = actions().get(work.action)
        if said_of is None:
            remedy = f"the work that is called is {', '.join(sorted(actions()))}"
            yield from unknown_fault((*here, "action"), "work", work.action, actions(), remedy)
        elif not said_of:
            yield from part_fault((*here, "part"), work.part, words)
        elif work.part not in said_of:
            yield Fault(
                (*here, "part"),
                f"'{work.action}' is said of {', '.join(sorted(said_of))}, not of '{work.part}'",
            )
        if work.count < 1:
            yield Fault((*here, "count"), "'count' must be above zero")
        if (work.action, work.part) in ((one.action, one.part) for one in step.does[:place]):
            yield Fault(here, f"'{work.action} {work.part}' is listed twice")


def finds_faults(at: Location, step: CardStep, words: CardWords) -> Iterable[Fault]:
    """Give what is wrong with what the answers to a step's question mean.

    Args:
        at: Where the step stands in the file.
        step: The step.
        words: What the card may refer to.
    """
    for place, finding in enumerate(step.finds):
        here: Location = (*at, "finds", place)
        if step.asks is None:
            yield Fault(here, "an answer means nothing where nothing is asked; give it 'asks'")
        yield from part_fault((*here, "part"), finding.part, words)
        yield from found_fault((*here, "condition"), finding.condition, words)
        if finding in step.finds[:place]:
            yield Fault(here, f"'{finding.part} {finding.condition}' is listed twice")
