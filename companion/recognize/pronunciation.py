"""How words and sentences are pronounced, as indices of the phonemes that the network knows."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from itertools import islice, product

from companion.grammar.pronounce import pronunciations
from companion.recognize.phonemes import PHONEMES

MOST_WAYS = 12
"""Ways to pronounce a sentence that are tried; most words have one."""
MOST_WAYS_OF_A_WORD = 3


@cache
def ways_of(word: str) -> tuple[tuple[int, ...], ...]:
    """Return the ways to pronounce a word, as indices of phonemes; none where none is known."""
    return tuple(
        tuple(PHONEMES[phoneme] for phoneme in way)
        for way in pronunciations(word)[:MOST_WAYS_OF_A_WORD]
    )


def ways_to_say(words: Sequence[str]) -> tuple[tuple[int, ...], ...]:
    """Return ways to pronounce a sentence; none where a word of it has none."""
    choices = [ways_of(word) for word in words]
    return tuple(
        tuple(phoneme for word in choice for phoneme in word)
        for choice in islice(product(*choices), MOST_WAYS)
    )
