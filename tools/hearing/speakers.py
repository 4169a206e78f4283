"""The people to measure by: those of a folder whom nothing was fitted on."""

from __future__ import annotations

from collections.abc import Sequence

from tools.fit_encoder.people import GROWN_UP, held_back
from tools.hearing.people import Sentence


def kept_back(found: Sequence[Sentence], *, everybody: bool = False) -> tuple[Sentence, ...]:
    """Leave out the sentences of speakers whom something may have been fitted on.

    Args:
        found: All sentences of a folder.
        everybody: Nothing was fitted on this folder.

    Returns:
        Those of the speakers that ``tools/fit_encoder/people.py`` keeps back. Where an age is
        missing nothing can have been fitted, and all are returned.
    """
    ages = {one.speaker: one.age for one in found if one.age is not None}
    if everybody or len(ages) < len({one.speaker for one in found}):
        return tuple(found)
    held = held_back(ages)
    return tuple(one for one in found if one.speaker in held)


def groups_of(sentence: Sentence) -> tuple[str, ...]:
    """Which rows a speaker counts in: "adults" or "children", "women" or "men"."""
    groups = []
    if sentence.age is not None:
        groups.append("adults" if sentence.age >= GROWN_UP else "children")
    if sentence.gender in ("f", "m"):
        groups.append("women, girls" if sentence.gender == "f" else "men, boys")
    return tuple(groups)
