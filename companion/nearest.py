"""The names nearest to one that is not known, for whoever mistyped it."""

from __future__ import annotations

from collections.abc import Iterable

from companion.files.quoting import quoted

FEWEST_ALIKE = 50.0
"""How alike two names must be to be offered, of 100; our own figure: "lenght" and "length" have 83,
"gap" and "play" 29."""

PLAINLY_MEANT = 75.0
"""How alike they must be for the one to be plainly meant by the other: "naem" and "name" have 75.
Our own figure."""

ALIKE_NAMES = 70.0
"""How alike names on a card and a sheet must be to be taken for one thing in two spellings; our own
figure: "drive belts" and "drive belt" have 95, "spark plug" and "spark screen" 64."""

MOST_OFFERED = 3


def nearest(name: str, known: Iterable[str], alike: float = FEWEST_ALIKE) -> tuple[str, ...]:
    """Return the known names nearest to one, the nearest first.

    Args:
        name: As it was written.
        known: All that it may be.
        alike: How alike they must be, of 100.

    Returns:
        At most three; of names of several words also those that share one with it: a part is often
        written with a word too few or too many, "pin" for "shear pin".
    """
    from rapidfuzz import fuzz, process

    # What is much longer than any name was not mistyped, and takes long to compare.
    written = " ".join(name.lower().split())[:200]
    every = sorted(known)
    found = process.extract(
        written, every, scorer=fuzz.ratio, score_cutoff=alike, limit=MOST_OFFERED
    )
    names = [each for each, _, _ in found]
    if alike <= FEWEST_ALIKE:
        words = set(written.split())
        names += [each for each in every if words & set(each.split())]
    return tuple(dict.fromkeys(names))[:MOST_OFFERED]


def nearest_words(name: str, known: Iterable[str], *, plainly: bool = False) -> str:
    """Return "the nearest is length", "the nearest are gap, play", or nothing.

    Args:
        name: As it was written.
        known: All that it may be.
        plainly: Whether the nearest alone is offered where it is plainly meant.
    """
    every = [*known]
    meant = nearest(name, every, PLAINLY_MEANT)[:1] if plainly else ()
    found = [quoted(each) for each in meant or nearest(name, every)]
    if not found:
        return ""
    return f"the nearest {'is' if len(found) == 1 else 'are'} {', '.join(found)}"
