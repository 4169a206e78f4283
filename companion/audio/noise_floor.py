"""The noise under speech: how loud it is in the band that speech is told by."""

from __future__ import annotations

from collections import deque

import numpy as np
from numpy.typing import NDArray

from companion.files.sound_format import SAMPLE_RATE

FRAME = 320
"""Samples judged at a time: 20 ms, one of the three lengths the voice detector takes."""
FRAME_SECONDS = FRAME / SAMPLE_RATE
SPEECH_BAND = (300.0, 4000.0)
"""What the energy gate listens to, in Hz: above most of an engine's rumble, below most hiss."""


class NoiseFloor:
    """A low percentile of the levels of the last few seconds.

    Between words the level falls to the noise, so that even speech without a pause does not lift a
    low percentile to its own level; steady noise becomes the floor within the memory's length.

    Args:
        memory: How many frames it looks back.
        share: Share of them, 0 to 1, that are at or below the noise floor.
        lowest: It is never taken to be below this, in dB of full scale.

    Attributes:
        level: The noise floor, in dB of full scale.
    """

    def __init__(self, memory: int, share: float, lowest: float) -> None:
        self._lowest = lowest
        self._share = share
        self._levels: deque[float] = deque(maxlen=memory)
        self.level = lowest

    def follow(self, level: float) -> None:
        """Take the level of the next frame, in dB of full scale."""
        self._levels.append(level)
        ranked = sorted(self._levels)
        self.level = max(self._lowest, ranked[int(self._share * (len(ranked) - 1))])


_LOW, _HIGH = SPEECH_BAND
_WINDOW = np.hanning(FRAME)
_BINS = np.fft.rfftfreq(FRAME, 1 / SAMPLE_RATE)
_IN_BAND = (_BINS >= _LOW) & (_BINS <= _HIGH)
_SCALE = 2 / (FRAME * float(np.sum(_WINDOW**2)))


def band_power(samples: NDArray[np.float32]) -> float:
    """Mean square of a frame within the speech band."""
    spectrum = np.fft.rfft(samples * _WINDOW)
    return float(np.sum(np.abs(spectrum[_IN_BAND]) ** 2)) * _SCALE


def decibels(power: float) -> float:
    """A power as decibels of full scale; -120 for none."""
    return 10 * float(np.log10(power + 1e-12))
