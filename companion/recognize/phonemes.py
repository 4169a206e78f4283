"""Which phonemes a sound holds: a small network of our own on top of the encoder's output.

Whisper's decoder knows how texts go on; it hears "thirteen" and "thirty" through what usually
follows. This network gives a second opinion from the sound alone: connectionist temporal
classification (Graves et al., 2006) over the phonemes of ARPABET, 50 frames a second.
``tools/fit_encoder`` makes its weights from people's and free synthetic voices in real and computed
noise, and says which.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from copy import copy
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from companion.recognize.ctc import BLANK
from companion.recognize.encoder_changes import CHANGES
from companion.recognize.probabilities import log_softmax
from companion.recognize.whole_files import hold_own

Floats = NDArray[np.float32]

WEIGHTS = Path(__file__).parent / "phonemes.npz"
"""Our own, for the encoder of Whisper tiny.en; half precision."""
WEIGHTS_SHA256 = "e7770af7681ea8c29cbd7ed312e94192f1fb2016a128594796c656013ca78927"
"""SHA-256 of that file; whoever fits it anew writes it here."""
_ARPABET = (
    "AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY P R S SH T TH UH UW "
    "V W Y Z ZH"
)
PHONEMES: Mapping[str, int] = {name: i for i, name in enumerate(_ARPABET.split(), start=BLANK + 1)}
"""Index of every phoneme of ARPABET."""
KINDS = len(PHONEMES) + 1
"""Phonemes, and the blank."""
FRAMES_PER_SECOND = 50


@dataclass(frozen=True, slots=True, eq=False)
class LastLayer:
    """Shapes (n, 40) and (40,): ``hidden @ weight + bias`` are the scores of the phonemes."""

    weight: Floats
    bias: Floats


class PhonemeNetwork:
    """Normalization, a projection, two convolutions over time with what came before added, and a
    projection to the phonemes."""

    def __init__(self, path: Path = WEIGHTS) -> None:
        """Load the weights.

        Args:
            path: An archive of arrays as ``tools/fit_encoder`` writes it.

        Raises:
            ModelDamaged: If the shipped weights are not what they were.
        """
        if path == WEIGHTS:
            hold_own(path, WEIGHTS_SHA256, "phoneme weights")
        with np.load(path) as stored:
            self._weights = {name: stored[name].astype(np.float32) for name in stored.files}
        self.width = len(self._weights["gain"])
        """Of the encoder's output."""

    def log_probabilities(self, encoded: Floats) -> Floats:
        """Log-probability of each phoneme in each frame.

        Args:
            encoded: The encoder's output, shape (frames, ``width``).

        Returns:
            Shape (frames, 40): blank, then ``PHONEMES``.
        """
        weights = self._weights
        return log_softmax(self.hidden(encoded) @ weights["out"] + weights["out_bias"])

    def hidden(self, encoded: Floats) -> Floats:
        """What the last layer is given: shape (frames, n), of an ``encoded`` sound."""
        weights = self._weights
        x = _normalized(encoded) * weights["gain"] + weights["shift"]
        x = _gelu(x @ weights["into"] + weights["into_bias"])
        for layer in ("first", "second"):
            x = x + _gelu(_convolved(_normalized(x), weights[layer], weights[f"{layer}_bias"]))
        return _normalized(x)

    @property
    def last_layer(self) -> LastLayer:
        """What makes phonemes of ``hidden``."""
        return LastLayer(self._weights["out"], self._weights["out_bias"])

    def with_last_layer(self, layer: LastLayer) -> PhonemeNetwork:
        """Return the same network with another last layer."""
        other = copy(self)
        other._weights = {**self._weights, "out": layer.weight, "out_bias": layer.bias}
        return other


@cache
def network_sha256() -> str:
    """SHA-256, in hex, of the encoder's changes and the network's weights together."""
    return hashlib.sha256(CHANGES.read_bytes() + WEIGHTS.read_bytes()).hexdigest()


def _normalized(x: Floats) -> Floats:
    centred = x - x.mean(axis=-1, keepdims=True)
    variance = np.mean(centred * centred, axis=-1, keepdims=True)
    return np.asarray(centred / np.sqrt(variance + np.float32(1e-5)), dtype=np.float32)


def _gelu(x: Floats) -> Floats:
    inner = np.float32(0.7978845608) * (x + np.float32(0.044715) * x * x * x)
    return np.asarray(np.float32(0.5) * x * (1 + np.tanh(inner)), dtype=np.float32)


def _convolved(x: Floats, kernel: Floats, bias: Floats) -> Floats:
    """Over time, as long as before; ``kernel`` has shape (taps, from, to)."""
    half = len(kernel) // 2
    padded = np.pad(x, ((half, half), (0, 0)))
    total = np.zeros((len(x), kernel.shape[2]), dtype=np.float32)
    for tap, weight in enumerate(kernel):
        total += padded[tap : tap + len(x)] @ weight
    return total + bias
