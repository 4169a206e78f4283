"""The order of a card's steps: no ring of steps that wait for each other, none that no way leads
to."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from companion.files.toml_lines import Location
from companion.job.card import CardStep
from companion.shelf.fault import Fault
from companion.shelf.name_faults import no_step


def order_faults(steps: Sequence[CardStep]) -> Iterable[Fault]:
    """Give what is wrong with the order of these steps."""
    place = {step.name: index for index, step in reversed(list(enumerate(steps)))}
    for index, step in enumerate(steps):
        for number, name in enumerate(step.after):
            at: Location = ("step", index, "after", number)
            if name not in place:
                yield no_step(at, name, place)
            elif _comes_after(steps, place, start=name, sought=step.name):
                yield Fault(at, f"'{step.name}' and '{name}' wait for each other")
            elif place[name] > index:
                yield Fault(
                    at, f"'after' names '{name}', which stands later on the card; move it up"
                )
    reached = _reached(steps, place)
    for index, step in enumerate(steps):
        if index not in reached:
            yield Fault(
                ("step", index),
                f"no way leads to the step '{step.name}': every branch before it leads past it",
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


def _reached(steps: Sequence[CardStep], place: dict[str, int]) -> set[int]:
    """The steps that some way along the card leads to."""
    reached: set[int] = set()
    waiting = [0] if steps else []
    while waiting:
        here = waiting.pop()
        if here in reached or here >= len(steps):
            continue
        reached.add(here)
        step = steps[here]
        waiting.extend(place[each.to] for each in step.branch if each.to in place)
        # Where both answers branch, nothing is left that leads on to the next step.
        answers = {each.when.answer for each in step.branch if each.when.step in (None, step.name)}
        if not {"affirm", "negative"} <= answers:
            waiting.append(here + 1)
    return reached
