"""The phoneme network's last layer, fitted to one person's voice.

A score of sentences, spoken by a person and known word by word, say which of the network's
phonemes that person's are: a "w" like a "v", a "th" like an "s". The last layer is moved by the
loss of connectionist temporal classification (Graves et al., 2006), and held near where it was,
so that what was not spoken stays as it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from companion.recognize.phonemes import BLANK, NEVER, Floats, LastLayer, log_likelihoods

PULL = 3.0
"""How strongly the layer is held where it was."""
ROUNDS = 12
"""Times that the frames are shared out between the phonemes anew."""
STEPS = 6
"""Steps of descent in each round."""
PACE = 0.02
"""Size of a step (Adam's)."""


@dataclass(frozen=True, slots=True, eq=False)
class Spoken:
    """One sentence of a person.

    Attributes:
        hidden: What the last layer is given, shape (frames, n).
        ways: The ways to say the sentence, as indices of phonemes.
    """

    hidden: Floats
    ways: tuple[tuple[int, ...], ...]


def fitted(
    layer: LastLayer, spoken: Sequence[Spoken], pull: float = PULL, rounds: int = ROUNDS
) -> LastLayer:
    """Fit a last layer to a person.

    Args:
        layer: The network's own.
        spoken: At least one sentence.
        pull: How strongly it is held where it was.
        rounds: Times that the frames are shared out anew.
    """
    frames = np.concatenate([one.hidden for one in spoken])
    frames = np.hstack([frames, np.ones((len(frames), 1), np.float32)])
    before = np.vstack([layer.weight, layer.bias]).astype(np.float64)
    now = before.copy()
    first, second = np.zeros_like(now), np.zeros_like(now)
    phonemes = sum(len(one.ways[0]) for one in spoken)
    step = 0
    for _ in range(rounds):
        wanted = _shared_out(frames, now, spoken)
        for _ in range(STEPS):
            step += 1
            slope = frames.T @ (np.exp(_log_softmax(frames @ now)) - wanted) / phonemes
            slope += pull / len(now) * (now - before)
            first += 0.1 * (slope - first)
            second += 0.01 * (slope**2 - second)
            ahead = first / (1 - 0.9**step)
            now -= PACE * ahead / (np.sqrt(second / (1 - 0.99**step)) + 1e-6)
    return LastLayer(now[:-1].astype(np.float32), now[-1].astype(np.float32))


def occupancy(chances: NDArray[np.float64], sequence: Sequence[int]) -> NDArray[np.float64]:
    """How probably each frame is each phoneme, given that the whole is this sequence.

    The forward and backward passes of connectionist temporal classification.

    Args:
        chances: Logarithms, shape (frames, kinds).
        sequence: Indices of phonemes.

    Returns:
        Shape (frames, kinds); each frame's probabilities add up to one.
    """
    labels = np.zeros(2 * len(sequence) + 1, dtype=np.int64)
    labels[1::2] = sequence
    may_skip = np.zeros(len(labels), dtype=bool)
    may_skip[2:] = (labels[2:] != BLANK) & (labels[2:] != labels[:-2])
    ahead = _forward(chances[:, labels], may_skip)
    # Backwards in time, the same with the sequence turned round.
    skip_back = np.zeros_like(may_skip)
    skip_back[2:] = may_skip[::-1][:-2]
    behind = _forward(chances[::-1][:, labels[::-1]], skip_back)[::-1, ::-1]
    together = ahead + behind - chances[:, labels]
    together -= np.logaddexp.reduce(together, axis=1, keepdims=True)
    found = np.zeros_like(chances)
    for place, label in enumerate(labels):
        found[:, label] += np.exp(together[:, place])
    return found


def _forward(emitted: NDArray[np.float64], may_skip: NDArray[np.bool_]) -> NDArray[np.float64]:
    reached = np.full(emitted.shape, NEVER)
    reached[0, :2] = emitted[0, :2]
    for frame in range(1, len(emitted)):
        before = reached[frame - 1]
        total = before.copy()
        total[1:] = np.logaddexp(total[1:], before[:-1])
        skipped = np.where(may_skip[2:], before[:-2], NEVER)
        total[2:] = np.logaddexp(total[2:], skipped)
        reached[frame] = total + emitted[frame]
    return reached


def _shared_out(
    frames: Floats, layer: NDArray[np.float64], spoken: Sequence[Spoken]
) -> NDArray[np.float64]:
    """What every frame should be, by the likeliest way to say its sentence."""
    chances = _log_softmax(frames @ layer)
    wanted, begin = [], 0
    for one in spoken:
        here = chances[begin : begin + len(one.hidden)]
        begin += len(one.hidden)
        way = one.ways[0]
        if len(one.ways) > 1:
            way = one.ways[int(log_likelihoods(here.astype(np.float32), one.ways).argmax())]
        wanted.append(occupancy(here, way))
    return np.concatenate(wanted)


def _log_softmax(scores: NDArray[np.float64]) -> NDArray[np.float64]:
    scores = scores - scores.max(axis=1, keepdims=True)
    return np.asarray(scores - np.log(np.exp(scores).sum(axis=1, keepdims=True)))
