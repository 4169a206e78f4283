"""Whether an utterance may begin with the call sign, by its phonemes alone.

In open-mic mode most of what is heard is talk, a radio, or metal on metal. Finding that a sound
does not begin with the call sign is quicker than searching it for calls, and a sound that is not
searched cannot be mistaken for a call.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from companion.recognize.ctc import best_span
from companion.recognize.phonemes import FRAMES_PER_SECOND, Floats

LATEST_START = 2 * FRAMES_PER_SECOND
"""Frames within which the call sign begins: what comes before it is breath and hesitation."""
LATEST_END = LATEST_START + FRAMES_PER_SECOND
"""Frames within which it ends; nobody takes a second to say it."""
LEAST_MARGIN = -9.0
"""Margin from which a sound is searched for a call. Set low: talk that passes is still judged by
everything else, and a call that does not pass is lost."""


def may_begin_with(log_probabilities: Floats, ways: Sequence[Sequence[int]]) -> bool:
    """Whether a sound is worth searching for a call that begins with the call sign.

    Args:
        log_probabilities: Shape (frames, 40), from ``PhonemeNetwork``.
        ways: Ways to pronounce the call sign; where none is known every sound is.
    """
    return not ways or max(margin(log_probabilities, way) for way in ways) >= LEAST_MARGIN


def margin(log_probabilities: Floats, way: Sequence[int]) -> float:
    """How much less probable the best alignment of these phonemes is than the best path.

    They may begin anywhere in the first ``LATEST_START`` frames and end before ``LATEST_END``; only
    the frames that they cover count.

    Args:
        log_probabilities: Shape (frames, 40), from ``PhonemeNetwork``.
        way: Indices of phonemes, at least one.

    Returns:
        A natural logarithm, 0 at most.
    """
    looked_at = log_probabilities[:LATEST_END]
    against_best = (looked_at - looked_at.max(axis=1, keepdims=True)).astype(np.float64)
    return best_span(against_best, way, LATEST_START - 1)
