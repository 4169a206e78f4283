"""Free decoding: what the sound says to a decoder that is held to nothing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from companion.recognize.decoder import Decoder, Sound

LONGEST_TEXT = 40
"""Tokens; enough to tell a call from talk, and to see how a note begins."""
SHORTEST_CIRCLE = 4
"""Tokens; fewer are said twice on purpose now and then."""


@dataclass(frozen=True, slots=True)
class FreeText:
    """The most probable text, token by token.

    Attributes:
        tokens: Ids of its tokens, without the one that ends it.
        heard: Natural logarithm of its probability given the sound.
    """

    tokens: tuple[int, ...]
    heard: float


def decode_freely(
    decoder: Decoder, sound: Sound, start: tuple[int, ...], end: int, longest: int = LONGEST_TEXT
) -> FreeText:
    """Take the most probable token at every step.

    Args:
        decoder: The decoder.
        sound: One sound.
        start: Tokens that come before the text.
        end: Id of the token that ends it.
        longest: Tokens after which it is cut.
    """
    prefixes = decoder.begin(sound)
    state = decoder.read(sound, prefixes, np.array([start]))[0, 0, -1]
    tokens: list[int] = []
    heard = 0.0
    while True:
        # Special tokens, numbered from the end's up, are no text; nor is an end before any.
        scores = decoder.embeddings[: end + 1] @ state
        best = int(scores[: end if not tokens else end + 1].argmax())
        heard += float(scores[best] - scores.max() - np.log(np.exp(scores - scores.max()).sum()))
        if best == end or len(tokens) == longest:
            return FreeText(tuple(tokens), heard)
        tokens.append(best)
        if _goes_in_circles(tokens):
            return FreeText(tuple(tokens[: len(tokens) // 2]), heard)
        state = decoder.read(sound, prefixes, np.array([[best]]))[0, 0, -1]


def _goes_in_circles(tokens: list[int]) -> bool:
    """Whether the text so far is one text twice: what a window with much silence can lead to."""
    half, odd = divmod(len(tokens), 2)
    return not odd and half >= SHORTEST_CIRCLE and tokens[:half] == tokens[half:]
