"""Where each word of a sentence lies in its sound: forced alignment by the phoneme network."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate, islice, pairwise, product

import numpy as np
from numpy.typing import NDArray

from companion.files.sound_format import SAMPLE_RATE
from companion.recognize.ctc import BLANK, log_likelihoods
from companion.recognize.held import HeldRecognizer
from companion.recognize.phonemes import FRAMES_PER_SECOND, Floats
from companion.recognize.probabilities import NEVER
from companion.recognize.pronunciation import MOST_WAYS, ways_of
from tests.sounds import Samples

SAMPLES_A_FRAME = SAMPLE_RATE // FRAMES_PER_SECOND
AROUND = 0.16
"""Seconds before the first phoneme's peak and after the last one's that are still of the word."""
_SHORT = SAMPLE_RATE // 100
"""Samples over which it is measured where a sound is quietest."""


def words_in(
    ears: HeldRecognizer, sound: Samples, words: Sequence[str]
) -> tuple[tuple[int, int], ...]:
    """Find where words begin and end.

    Args:
        ears: With a phoneme network.
        sound: Shape (n,), in which they are said one after the other.
        words: What is said.

    Returns:
        First sample and end of each; nothing where the pronunciation of a word is not known or
        they do not fit into the sound. Between two words it is cut where the sound is quietest.
    """
    phonemes = ears.phonemes(sound)
    ways = [ways_of(word) for word in words]
    if phonemes is None or not all(ways):
        return ()
    choices = list(islice(product(*ways), MOST_WAYS))
    sequences = [[phoneme for way in choice for phoneme in way] for choice in choices]
    if 2 * max(map(len, sequences)) > len(phonemes):
        return ()
    likeliest = int(np.argmax(log_likelihoods(phonemes, sequences)))
    spans = spans_of(phonemes, sequences[likeliest])
    ends = list(accumulate(map(len, choices[likeliest])))
    begins = [0, *ends[:-1]]
    first = [spans[begin][0] * SAMPLES_A_FRAME for begin in begins]
    last = [(spans[end - 1][1] + 1) * SAMPLES_A_FRAME for end in ends]
    margin = round(AROUND * SAMPLE_RATE)
    cuts = [max(0, first[0] - margin)]
    cuts += [_quietest(sound, last[k], first[k + 1]) for k in range(len(words) - 1)]
    cuts += [min(len(sound), last[-1] + margin)]
    return tuple(pairwise(cuts))


def spans_of(log_probabilities: Floats, sequence: Sequence[int]) -> list[tuple[int, int]]:
    """First and last frame of each phoneme on the likeliest way through a sound.

    Args:
        log_probabilities: Shape (frames, kinds).
        sequence: Indices of phonemes.
    """
    labels = np.full(2 * len(sequence) + 1, BLANK)
    labels[1::2] = sequence
    may_skip = np.zeros(len(labels), dtype=bool)
    may_skip[2:] = (labels[2:] != BLANK) & (labels[2:] != labels[:-2])
    reached = np.full(len(labels), NEVER)
    reached[:2] = 0.0
    came: list[NDArray[np.int64]] = []
    for number, frame in enumerate(log_probabilities):
        if number:
            stay = reached
            one = np.concatenate([[NEVER], reached[:-1]])
            two = np.where(may_skip, np.concatenate([[NEVER, NEVER], reached[:-2]]), NEVER)
            ways = np.stack([stay, one, two])
            came.append(np.argmax(ways, axis=0))
            reached = ways.max(axis=0)
        reached = reached + frame[labels]
    place = len(labels) - 1 if reached[-1] >= reached[-2] else len(labels) - 2
    path = [place]
    for steps in reversed(came):
        place -= int(steps[place])
        path.append(place)
    path.reverse()
    frames = [
        [number for number, at in enumerate(path) if at == 2 * k + 1] for k in range(len(sequence))
    ]
    return [(each[0], each[-1]) for each in frames]


def _quietest(sound: Samples, begin: int, end: int) -> int:
    """The sample in a stretch around which a sound is quietest."""
    if end - begin <= _SHORT:
        return (begin + end) // 2
    places = range(begin, end - _SHORT + 1, _SHORT // 2)
    power = [float(np.square(sound[place : place + _SHORT]).sum()) for place in places]
    return places[int(np.argmin(power))] + _SHORT // 2
