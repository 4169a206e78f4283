"""What a card names and the sheet of the machine does not, so that nothing is passed over silently.

Each by itself is right: a card is for many machines, and a name of only one of them is recorded all
the same. It is told because one thing written in two ways looks like two things.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from companion.job.card import CardStep, Condition, JobCard
from companion.job.fits import lists
from companion.job.judge import spec_of, window_of
from companion.job.service_items import SAME_OIL
from companion.job.sheet import SpecSheet
from companion.job.sheet_measures import measures
from companion.nearest import ALIKE_NAMES, nearest
from companion.shelf.common import common_measures


def card_and_sheet(card: JobCard, sheet: SpecSheet) -> tuple[str, ...]:
    """Return a sentence for everything that a card names and a sheet does not.

    Args:
        card: The card.
        sheet: Of the machine that it is worked with.
    """
    return (*_measures(card, sheet), *_listed(card, sheet), *_fluids(card, sheet))


def _measures(card: JobCard, sheet: SpecSheet) -> Iterator[str]:
    # A name of the card's own, or one that is always known, is no other spelling of something else.
    own = {*(name for step in card.step for name in step.expects), *common_measures()}
    names = [each.measure for each in measures(sheet) if each.measure not in own]
    lacking: list[str] = []
    for step in card.step:
        given = {window.measure for window in step.windows}
        for measure in step.expects:
            known = window_of(spec_of(sheet, measure)) is not None
            if known or measure in given or measure in lacking or not _applies(step, sheet):
                continue
            near = () if spec_of(sheet, measure) else _near(measure, names)
            if near:
                yield (
                    f"The card measures '{measure}' in step '{step.name}', of which the sheet has "
                    f"no figure; the nearest that it has is '{near[0]}'. If that is the same, call "
                    "it by one name."
                )
            lacking.append(measure)
    plain = [each for each in lacking if spec_of(sheet, each) or not _near(each, names)]
    if plain:
        yield (
            f"The sheet has no figure for what the card measures: {', '.join(plain)}. What is "
            "called is kept, and nobody can say whether it is right."
        )


def _listed(card: JobCard, sheet: SpecSheet) -> Iterator[str]:
    """Steps that a sheet passes over because it lists something by another name."""
    on_sheet = [
        *(part.name for part in sheet.part),
        *(each.measure for each in measures(sheet)),
        *(fluid.name for fluid in sheet.fluid),
        *(belt.name for belt in sheet.belt),
    ]
    told: set[str] = set()
    for step in card.step:
        for condition in _conditions(step):
            name = condition.listed
            if name is None or name in told or lists(sheet, name):
                continue
            near = _near(name, on_sheet)
            if near:
                told.add(name)
                yield (
                    f"Step '{step.name}' of the card is only for machines whose sheet lists "
                    f"'{name}'; this one lists '{near[0]}'. If that is the same, call it by one "
                    "name."
                )


def _fluids(card: JobCard, sheet: SpecSheet) -> Iterator[str]:
    on_sheet = {name: each.name for each in sheet.fluid for name in (each.name, *each.spoken)}
    for fluid in card.fluid:
        if {fluid.name, *fluid.spoken} & on_sheet.keys():
            continue
        near = _near(fluid.name, on_sheet)
        same = [name for name in on_sheet if {name, fluid.name} <= SAME_OIL]
        for meant in (*same, *near)[:1]:
            yield (
                f"The card moves '{fluid.name}'; the sheet calls a fluid '{on_sheet[meant]}'. If "
                "that is the same, call it by one name, or what is called counts for neither."
            )


def _applies(step: CardStep, sheet: SpecSheet) -> bool:
    """Whether a step is not known to be passed over on this machine."""
    condition = step.only_if
    return condition is None or condition.listed is None or lists(sheet, condition.listed)


def _conditions(step: CardStep) -> Iterator[Condition]:
    if step.only_if is not None:
        yield step.only_if
    yield from (branch.when for branch in step.branch)


def _near(name: str, known: Iterable[str]) -> tuple[str, ...]:
    """Names that may be the same thing: alike, or one that ends as the other does."""
    every = [*known]
    alike = nearest(name, every, ALIKE_NAMES)
    longer = (each for each in every if each.endswith(f" {name}") or name.endswith(f" {each}"))
    return tuple(dict.fromkeys((*alike, *longer)))
