"""The phoneme network's last layer, fitted to one person's voice.

Some twenty sentences, spoken by a person and known word by word, show how that person says the
network's phonemes: a "w" like a "v", a "th" like an "s". The last layer is moved by the loss of
connectionist temporal classification (Graves et al., 2006), and held near where it was, so that
what was not spoken stays as it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from companion.recognize.ctc import log_likelihoods, occupancy
from companion.recognize.phonemes import Floats, LastLayer
from companion.recognize.probabilities import log_softmax

PULL = 3.0
"""How strongly the layer is held where it was."""
ROUNDS = 12
"""How often the frames are assigned to the phonemes anew."""
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
        rounds: How often the frames are assigned anew.
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
            slope = frames.T @ (np.exp(log_softmax(frames @ now)) - wanted) / phonemes
            slope += pull / len(now) * (now - before)
            first += 0.1 * (slope - first)
            second += 0.01 * (slope**2 - second)
            ahead = first / (1 - 0.9**step)
            now -= PACE * ahead / (np.sqrt(second / (1 - 0.99**step)) + 1e-6)
    return LastLayer(now[:-1].astype(np.float32), now[-1].astype(np.float32))


def _shared_out(
    frames: Floats, layer: NDArray[np.float64], spoken: Sequence[Spoken]
) -> NDArray[np.float64]:
    """What every frame should be, by the likeliest way to say its sentence."""
    log_probabilities = log_softmax(frames @ layer)
    wanted, begin = [], 0
    for one in spoken:
        here = log_probabilities[begin : begin + len(one.hidden)]
        begin += len(one.hidden)
        way = one.ways[0]
        if len(one.ways) > 1:
            way = one.ways[int(log_likelihoods(here.astype(np.float32), one.ways).argmax())]
        wanted.append(occupancy(here, way))
    return np.concatenate(wanted)
