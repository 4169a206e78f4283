"""What a text is for the decoder and for the phoneme network."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence

from companion.recognize.pronunciation import ways_of
from tools.fit_encoder.layout import Rival
from tools.fit_encoder.rivals import Rivals

Tokens = Callable[[str], Sequence[int]]
"""Makes the tokens of a text, as ``WhisperModel.tokens`` does."""
RivalsOf = Callable[[str], tuple[Rival, ...]]
"""Makes what a text might be taken for."""


def tokens_of(text: str, tokens: Tokens) -> tuple[tuple[int, ...], ...]:
    """Return the two ways to write a text: with a small and with a capital letter."""
    return tuple(tuple(tokens(f" {written}")) for written in (text, text.capitalize()))


def phonemes_of(text: str) -> tuple[int, ...]:
    """Return the phonemes of a text, each word as it is pronounced first; none where the
    pronunciation of a word is not known."""
    ways = [ways_of(word) for word in text.split()]
    return tuple(phoneme for way in ways for phoneme in way[0]) if all(ways) else ()


def rivals_by(rivals: Rivals, tokens: Tokens, drawn_from: int) -> RivalsOf:
    """Return what makes the rivals of a text, drawn by chance.

    Args:
        rivals: Makes their texts.
        tokens: Makes the tokens of a text.
        drawn_from: Where chance begins.
    """
    draw = random.Random(drawn_from)

    def of(text: str) -> tuple[Rival, ...]:
        return tuple(
            Rival(tokens_of(rival, tokens), phonemes_of(rival)) for rival in rivals.of(text, draw)
        )

    return of
