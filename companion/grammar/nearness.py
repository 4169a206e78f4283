"""How alike words sound to somebody who listens: share of phonemes in which they agree."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache, lru_cache
from itertools import product

from rapidfuzz.distance import Levenshtein

from companion.grammar.pronounce import pronunciations

Words = tuple[str, ...]

LEAST_LIKENESS = 0.7
"""Two words that agree in this share of their phonemes, or more, are called near; chosen here so
that rhymes (worn and torn, belt and bolt) are."""

LEAST_LIKENESS_OF_SHORT = 0.5
"""The same for words that differ in one phoneme only (tine and tire, no and note)."""


HOLE = "<"
"""How the place of a slot begins in a phrase: no word does, in JSGF."""

_VOWELS = frozenset(
    ["AA", "AE", "AH", "AO", "AW", "AY", "EH", "ER", "EY", "IH", "IY", "OW", "OY", "UH", "UW"]
)


_LETTERS: dict[str, str] = {}


def _letter(sound: str) -> str:
    """One letter for each phoneme and slot: strings are compared much more quickly than tuples."""
    return _LETTERS.setdefault(sound, chr(len(_LETTERS) + 1))


@lru_cache(maxsize=1 << 16)
def _sounds(words: Words) -> tuple[str, ...]:
    """Every way to pronounce words one after the other, a letter a phoneme."""
    return tuple(dict.fromkeys("".join(way) for way in product(*map(_sounds_of_word, words))))


@lru_cache(maxsize=1 << 16)
def rough_sounds(words: Words) -> tuple[str, ...]:
    """The same with all vowels alike: fewer ways, and none farther from another than they are."""
    return tuple(dict.fromkeys("".join(way) for way in product(*map(_rough_sounds_of_word, words))))


@cache
def _sounds_of_word(word: str) -> tuple[str, ...]:
    if word.startswith(HOLE):
        return (_letter(word),)
    return tuple("".join(map(_letter, way)) for way in pronunciations(word))


@cache
def _rough_sounds_of_word(word: str) -> tuple[str, ...]:
    if word.startswith(HOLE):
        return (_letter(word),)
    ways = (
        "".join(_letter("V" if sound in _VOWELS else sound) for sound in way)
        for way in pronunciations(word)
    )
    return tuple(dict.fromkeys(ways))


@lru_cache(maxsize=1 << 20)
def nearness(one: Words, other: Words) -> float | None:
    """How alike two phrases sound, 0 to 1, or None if they are not near."""
    return parts_nearness(((one, other),))


def parts_nearness(parts: Sequence[tuple[Words, Words]]) -> float | None:
    """The same of two phrases that differ in these parts, what they share struck out."""
    apart = longest = 0
    for one, other in parts:
        distance, length = _distance(one, other)
        apart += distance
        longest += length
    value = 1.0 - apart / max(longest, 1)
    near = value >= LEAST_LIKENESS or (value >= LEAST_LIKENESS_OF_SHORT and apart == 1)
    return value if near else None


@lru_cache(maxsize=1 << 20)
def _distance(one: Words, other: Words) -> tuple[int, int]:
    """In how many phonemes two phrases differ in their likest pronunciations, and how many the
    longer has."""
    ways = (
        (Levenshtein.distance(a, b), max(len(a), len(b), 1))
        for a, b in product(_sounds(one), _sounds(other))
    )
    # A word with no known pronunciation is near to no other.
    return min(ways, key=lambda way: way[0] / way[1], default=(1, 1))
