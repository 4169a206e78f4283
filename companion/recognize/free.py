"""Free decoding: what a decoder that is held to no grammar makes of the sound."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from companion.recognize.decoder import Decoder, Sound
from companion.recognize.embeddings import COMMON
from companion.recognize.probabilities import log_softmax

LONGEST_TEXT = 40
"""Tokens; enough to tell a call from talk, and to see how a note begins."""
SHORTEST_CIRCLE = 4
"""Tokens; fewer are said twice on purpose now and then."""


@dataclass(frozen=True, slots=True)
class FreeText:
    """The most probable text, token by token.

    Attributes:
        tokens: Ids of its tokens, without the one that ends it.
        log_probability: Of the text given the sound, a natural logarithm.
    """

    tokens: tuple[int, ...]
    log_probability: float


def decode_freely(
    decoder: Decoder, sound: Sound, start: tuple[int, ...], end: int, longest: int = LONGEST_TEXT
) -> FreeText:
    """Take the most probable token at every step.

    Of the decoder's 50 257 tokens of text the commonest are enough to compare by; rarer words come
    out in pieces. To look at all of them takes most of the time.

    Args:
        decoder: The decoder.
        sound: One sound.
        start: Tokens that come before the text.
        end: Id of the token that ends it.
        longest: Tokens after which it is cut.
    """
    prefixes = decoder.begin(sound)
    state = decoder.read(sound, prefixes, np.array([start]))[0, 0, -1]
    (ending,) = decoder.embeddings.of([end])
    tokens: list[int] = []
    log_probability = 0.0
    while True:
        scores = np.append(decoder.embeddings.common @ state, ending @ state)
        # A text may end before it begins: where nobody speaks, there is none.
        best = int(scores.argmax())
        log_probability += float(log_softmax(scores)[best])
        if best == COMMON or len(tokens) == longest:
            return FreeText(tuple(tokens), log_probability)
        tokens.append(best)
        if _goes_in_circles(tokens):
            return FreeText(tuple(tokens[: len(tokens) // 2]), log_probability)
        state = decoder.read(sound, prefixes, np.array([[best]]))[0, 0, -1]


def _goes_in_circles(tokens: list[int]) -> bool:
    """Whether the text so far is one text twice: what a window with much silence can lead to."""
    half, odd = divmod(len(tokens), 2)
    return not odd and half >= SHORTEST_CIRCLE and tokens[:half] == tokens[half:]
