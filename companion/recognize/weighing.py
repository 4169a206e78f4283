"""Two opinions put together: Whisper's decoder, and the phonemes that were heard."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from companion.recognize.constrained_decoding import Sentence
from companion.recognize.ctc import best_path, log_likelihoods
from companion.recognize.phonemes import Floats
from companion.recognize.pronunciation import ways_to_say

PHONEME_WEIGHT = 0.3
"""What the phonemes count beside the decoder: as often right as any other on the voices and people
that may be tuned on (``python -m tools.fit_evidence``)."""
UNSAYABLE = -6.0
"""Natural logarithm by which a sentence with a word of unknown pronunciation counts as less
probable than the best path: between the figures of right and of wrong sentences."""


@dataclass(frozen=True, slots=True)
class Weighed:
    """A sentence with both opinions of it.

    Attributes:
        sentence: As the decoder scored it.
        phonemes: Natural logarithm of how probable its phonemes are against those of the best path
            through the sound; 0 at most, nearly.
        count: Of its phonemes.
        score: Both together: what sentences are ranked by.
    """

    sentence: Sentence
    phonemes: float
    count: int
    score: float


def weigh(sentences: Sequence[Sentence], log_probabilities: Floats | None) -> tuple[Weighed, ...]:
    """Rank sentences by both opinions.

    Args:
        sentences: Scored by the decoder, at least one.
        log_probabilities: Of phonemes, from the ``PhonemeNetwork``; None where there is none for
            this model.

    Returns:
        Best first.
    """
    if log_probabilities is None:
        return tuple(Weighed(each, 0.0, 1, each.score) for each in sentences)
    best = best_path(log_probabilities)
    said = [ways_to_say(each.words) for each in sentences]
    flat = [way for ways in said for way in ways]
    likelihoods = iter(log_likelihoods(log_probabilities, flat) if flat else ())
    weighed = []
    for sentence, ways in zip(sentences, said, strict=True):
        found = [float(next(likelihoods)) for _ in ways]
        phonemes = float(np.logaddexp.reduce(found)) - best if found else UNSAYABLE
        weighed.append(
            Weighed(
                sentence,
                phonemes,
                len(ways[0]) if ways else 1,
                sentence.score + PHONEME_WEIGHT * phonemes,
            )
        )
    return tuple(sorted(weighed, key=lambda each: -each.score))
