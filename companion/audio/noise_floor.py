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
RISE = 6.0
"""Above the noise floor, in dB: steady sound from there on is another noise than before."""
UNEVEN = 5.0
"""How far steady noise goes up and down, in dB, the loudest and softest twentieth left out; an
engine at idle by 4, a compressor by 3, people who speak for 1.2 s by more than 5 in all but 2 of
130 recordings, and by more than 8 in most (``docs/measurements.md``)."""


class NoiseFloor:
    """A low percentile of the levels of the last few seconds.

    Between words the level falls to the noise, so that even speech without a pause does not lift a
    low percentile to its own level; noise that begins becomes the floor within the memory's length,
    and at once where it is as steady as no speech is: what was before it is then forgotten.

    Args:
        memory: How many frames it looks back.
        share: Share of them, 0 to 1, that are at or below the noise floor.
        lowest: It is never taken to be below this, in dB of full scale.
        steady: So many frames without ups and downs are noise that has begun; None to wait for the
            memory's length.

    Attributes:
        level: The noise floor, in dB of full scale.
        begun: Whether noise was found to have begun with the last frame.
    """

    def __init__(self, memory: int, share: float, lowest: float, steady: int | None = None) -> None:
        self._lowest = lowest
        self._share = share
        self._levels: deque[float] = deque(maxlen=memory)
        self._steady = steady
        self.level = lowest
        self.begun = False

    def follow(self, level: float) -> None:
        """Take the level of the next frame, in dB of full scale."""
        self._levels.append(level)
        self.begun = self._noise_has_begun(level)
        if self.begun:
            latest = [*self._levels][-(self._steady or 0) :]
            self._levels.clear()
            self._levels.extend(latest)
        ranked = sorted(self._levels)
        self.level = max(self._lowest, ranked[int(self._share * (len(ranked) - 1))])

    def _noise_has_begun(self, level: float) -> bool:
        if self._steady is None or level < self.level + RISE or len(self._levels) < self._steady:
            return False
        latest = [*self._levels][-self._steady :]
        if min(latest) < self.level + RISE:
            return False
        low, high = np.quantile(latest, (0.05, 0.95))
        return bool(high - low <= UNEVEN)


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
