"""What a text is for the decoder and for the phoneme network."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from companion.recognize.pronunciation import ways_of

Tokens = Callable[[str], Sequence[int]]
"""Makes the tokens of a text, as ``WhisperModel.tokens`` does."""


def tokens_of(text: str, tokens: Tokens) -> tuple[tuple[int, ...], ...]:
    """Return the two ways to write a text: with a small and with a capital letter."""
    return tuple(tuple(tokens(f" {written}")) for written in (text, text.capitalize()))


def phonemes_of(text: str) -> tuple[int, ...]:
    """Return the phonemes of a text, each word as it is pronounced first; none where the
    pronunciation of a word is not known."""
    ways = [ways_of(word) for word in text.split()]
    return tuple(phoneme for way in ways for phoneme in way[0]) if all(ways) else ()
