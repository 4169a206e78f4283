"""The part of an echo that is the sound itself, through loudspeaker, room and microphone.

A partitioned frequency-domain filter that learns the way of the sound as a Kalman filter does
(Enzner and Vary, "Frequency-domain adaptive Kalman filter for acoustic echo control in hands-free
telephones", 2006; partitioned as by Kuech, Mabande and Enzner, 2014). It only subtracts: whoever
calls meanwhile is left whole, which no canceller that also suppresses what is left does
(``docs/hearing.md``).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

HOP = 320
"""Samples that are worked on together: 20 ms at 16 kHz."""
PARTITIONS = 21
"""Filters one behind the other: together 0.42 s, the echo of a bare shop down to where it is lost
in the rest."""
STEADY = 0.9995
"""How far the way of the sound is the same from one hop to the next."""
UNCERTAIN_AT_FIRST = 0.1
"""Variance of each coefficient before anything was learned."""
SMOOTHING = 0.8
"""Share of what was left before in the running power of what is left."""
LEAST_POWER = 1e-9
"""Keeps a division by nothing away."""

_Complex = NDArray[np.complex128]


class LinearEcho:
    """Learns how the loudspeaker sounds in the microphone, and takes it out."""

    def __init__(self) -> None:
        bins = HOP + 1
        self._heard: _Complex = np.zeros((PARTITIONS, bins), dtype=np.complex128)
        self._way: _Complex = np.zeros((PARTITIONS, bins), dtype=np.complex128)
        self._uncertain = np.full((PARTITIONS, bins), UNCERTAIN_AT_FIRST)
        self._left = np.full(bins, 1e-6)
        self._before = np.zeros(HOP)

    def remove(self, near: NDArray[np.float32], far: NDArray[np.float32]) -> NDArray[np.float32]:
        """Return what the microphone heard, without the echo as far as its way is known.

        Args:
            near: Shape (``HOP``,): from the microphone.
            far: Shape (``HOP``,): given to the loudspeaker at the same time.
        """
        self._take_in(far)
        echo = np.fft.irfft((self._heard * self._way).sum(axis=0))[HOP:]
        left = near - echo
        if not self._heard.any():
            return near
        self._learn(left)
        # What is left is more than there was only where the way has changed, or the sound was cut
        # short: the echo then is not there.
        return near if np.sum(left**2) > np.sum(near**2) else left.astype(np.float32)

    def heard_before(self, far: NDArray[np.float32]) -> None:
        """Take in again what sounded until now: it was found to have been heard at another time.

        Args:
            far: Shape (n,): the last of it.
        """
        self._heard[:] = 0
        self._before = np.zeros(HOP)
        for begin in range(0, len(far) // HOP * HOP, HOP):
            self._take_in(far[begin : begin + HOP])

    def less_sure(self, share: float) -> None:
        """Take what was learned for less sure: the way may have changed by this share of it."""
        self._uncertain = np.maximum(self._uncertain, share * np.abs(self._way) ** 2)

    def _take_in(self, far: NDArray[np.float32]) -> None:
        spectrum = np.fft.rfft(np.concatenate((self._before, far)))
        self._before = far.astype(np.float64)
        self._heard = np.concatenate((spectrum[None], self._heard[:-1]))

    def _learn(self, left: NDArray[np.float64]) -> None:
        wrong = np.fft.rfft(np.concatenate((np.zeros(HOP), left)))
        power = np.abs(self._heard) ** 2
        self._left = SMOOTHING * self._left + (1 - SMOOTHING) * np.abs(wrong) ** 2
        expected = 0.5 * (self._uncertain * power).sum(axis=0) + self._left + LEAST_POWER
        step = self._uncertain / expected
        change = np.fft.irfft(step * self._heard.conj() * wrong, axis=1)
        change[:, HOP:] = 0
        self._way = STEADY * (self._way + np.fft.rfft(change, axis=1))
        surer = STEADY**2 * (1 - 0.5 * step * power) * self._uncertain
        self._uncertain = surer + (1 - STEADY**2) * np.abs(self._way) ** 2
