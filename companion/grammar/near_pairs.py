"""Find the pairs among many phrases that sound near: first many at once, with all vowels made
equal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache

import numpy as np
from numpy.typing import NDArray
from rapidfuzz import process
from rapidfuzz.distance import Levenshtein

from companion.grammar.nearness import (
    LEAST_LIKENESS,
    LEAST_LIKENESS_OF_SHORT,
    Words,
    nearness,
    rough_sounds,
)

_ROWS = 512
"""How many phrases are compared with all others at once."""


def near_pairs(phrases: Iterable[Words]) -> Iterator[tuple[Words, Words]]:
    """Find the pairs of near phrases that have no word in common, each once, in order.

    Args:
        phrases: To compare, each of one word or more.
    """
    ordered = sorted(set(phrases))
    for first, second in sorted(_Candidates(ordered).pairs()):
        one, other = ordered[first], ordered[second]
        if nearness(one, other) is not None:
            yield one, other


class _Candidates:
    """Pairs that may be near: with all vowels made equal two phrases are at least as near as they
    are, so that what is left out here is not near."""

    def __init__(self, phrases: list[Words]) -> None:
        self._words = _numbered(phrases)
        by_length: dict[int, list[tuple[str, int]]] = {}
        for number, words in enumerate(phrases):
            for rough in rough_sounds(words):
                by_length.setdefault(len(rough), []).append((rough, number))
        self._by_length = {
            length: ([rough for rough, _ in ways], np.array([number for _, number in ways]))
            for length, ways in by_length.items()
        }

    def pairs(self) -> set[tuple[int, int]]:
        """Numbers of the phrases of each pair, the lower one first."""
        found: set[tuple[int, int]] = set()
        for length, (longer, numbers) in self._by_length.items():
            if not length:
                continue
            room = _room(length)
            for other in range(max(1, length - room), length + 1):
                shorter, others = self._by_length.get(other, ([], numbers))
                for first in range(0, len(longer) if shorter else 0, _ROWS):
                    rows, columns = _near(longer[first : first + _ROWS], shorter, room)
                    found.update(self._apart(numbers[first + rows], others[columns]))
        return found

    def _apart(self, one: NDArray[np.int64], other: NDArray[np.int64]) -> Iterator[tuple[int, int]]:
        """Those of these pairs that have no word in common."""
        shared = self._words[one][:, :, None] == self._words[other][:, None, :]
        apart = ~shared.any(axis=(1, 2))
        low, high = np.minimum(one, other)[apart], np.maximum(one, other)[apart]
        return zip(low.tolist(), high.tolist(), strict=True)


def _near(
    longer: list[str], shorter: list[str], room: int
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Rows and columns of the pairs that differ in at most so many sounds."""
    apart = process.cdist(
        longer, shorter, scorer=Levenshtein.distance, score_cutoff=room, dtype=np.uint8
    )
    places = np.flatnonzero(apart.ravel() <= room)
    rows, columns = np.divmod(places, len(shorter))
    return rows, columns


def _numbered(phrases: list[Words]) -> NDArray[np.int64]:
    """The words of each phrase as numbers; where it has fewer than others, numbers of no word."""
    numbers: dict[str, int] = {}
    longest = max(map(len, phrases), default=0)
    table = -1 - np.arange(len(phrases) * longest).reshape(len(phrases), longest)
    for row, words in zip(table, phrases, strict=True):
        row[: len(words)] = [numbers.setdefault(word, len(numbers)) for word in words]
    return table


@cache
def _room(longest: int) -> int:
    """In how many phonemes two near phrases may differ, by the number of phonemes of the longer
    one."""
    if 1 - 1 / longest < LEAST_LIKENESS_OF_SHORT:
        return 0
    return max(1, int((1 - LEAST_LIKENESS) * longest + 1e-9))
