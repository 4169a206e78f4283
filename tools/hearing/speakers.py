"""The people to measure by: those of a folder whom nothing was fitted on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from tools.fit_encoder.people import GROWN_UP, held_back
from tools.hearing.people import Sentence

BELIEF_EVERY = 3
"""Of the speakers kept back from the networks, every so many serve to fit belief by."""


def kept_back(found: Sequence[Sentence], *, everybody: bool = False) -> tuple[Sentence, ...]:
    """Leave out the sentences of speakers whom something may have been fitted on.

    Args:
        found: All sentences of a folder.
        everybody: Nothing was fitted on this folder.

    Returns:
        Those of the speakers that ``tools/fit_encoder/people.py`` keeps back, but for those of
        ``for_belief``. Where an age is missing nothing can have been fitted, and all are returned.
    """
    ages = {one.speaker: one.age for one in found if one.age is not None}
    if everybody or len(ages) < len({one.speaker for one in found}):
        return tuple(found)
    held = held_back(ages) - _belief(ages)
    return tuple(one for one in found if one.speaker in held)


def for_belief(found: Sequence[Sentence]) -> tuple[Sentence, ...]:
    """The sentences of those speakers whom the networks were not fitted on, but what makes a call
    believed is (``tools/fit_evidence``): they are not measured by either."""
    ages = {one.speaker: one.age for one in found if one.age is not None}
    believed = _belief(ages)
    return tuple(one for one in found if one.speaker in believed)


def _belief(ages: Mapping[str, int]) -> frozenset[str]:
    return frozenset(sorted(held_back(ages))[::BELIEF_EVERY])


def groups_of(sentence: Sentence) -> tuple[str, ...]:
    """Which rows a speaker counts in: "adults" or "children", "women" or "men"."""
    groups = []
    if sentence.age is not None:
        groups.append("adults" if sentence.age >= GROWN_UP else "children")
    if sentence.gender in ("f", "m"):
        groups.append("women, girls" if sentence.gender == "f" else "men, boys")
    return tuple(groups)
