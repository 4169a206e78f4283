"""Whether an utterance may begin with the call sign, by its phonemes alone.

In open-mic mode most of what is heard is talk, a radio, or metal on metal. To find that it does not
begin with the call sign takes a fifth of the time of searching it for calls, and what is not
searched cannot be taken for one.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from companion.recognize.phonemes import BLANK, FRAMES_PER_SECOND, NEVER, Floats

LATEST_START = 2 * FRAMES_PER_SECOND
"""Frames within which the call sign begins: what comes before it is breath and hesitation."""
LATEST_END = LATEST_START + FRAMES_PER_SECOND
"""Frames within which it ends; nobody takes a second to say it."""
LEAST_MARGIN = -9.0
"""Margin from which a sound is searched for a call. Set low: talk that passes is still judged by
everything else, and a call that does not pass is lost."""


def may_begin_with(chances: Floats, ways: Sequence[Sequence[int]]) -> bool:
    """Whether a sound is worth searching for a call that begins with the call sign.

    Args:
        chances: Shape (frames, 40), from ``PhonemeNetwork``.
        ways: Ways to pronounce the call sign; where none is known every sound is.
    """
    return not ways or max(margin(chances, way) for way in ways) >= LEAST_MARGIN


def margin(chances: Floats, way: Sequence[int]) -> float:
    """How much less probable the best alignment of these phonemes is than the best path.

    They may begin anywhere in the first ``LATEST_START`` frames and end before ``LATEST_END``; only
    the frames that they cover count.

    Args:
        chances: Shape (frames, 40), from ``PhonemeNetwork``.
        way: Indices of phonemes, at least one.

    Returns:
        A natural logarithm, 0 at most.
    """
    labels = np.full(2 * len(way) - 1, BLANK)
    labels[::2] = way
    may_skip = np.zeros(len(labels), dtype=bool)
    may_skip[2::2] = labels[2::2] != labels[:-2:2]
    chances = chances[:LATEST_END]
    against_best: NDArray[np.float64] = (chances - chances.max(axis=1, keepdims=True)).astype(float)
    reached = np.full(len(labels), NEVER)
    best = NEVER
    for number, frame in enumerate(against_best):
        before = np.full(len(labels), NEVER)
        before[1:] = reached[:-1]
        before[2:] = np.where(may_skip[2:], np.maximum(before[2:], reached[:-2]), before[2:])
        if number < LATEST_START:
            before[0] = max(before[0], 0.0)
        reached = np.maximum(reached, before) + frame[labels]
        best = max(best, float(reached[-1]))
    return best
