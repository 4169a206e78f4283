"""How late a sound that is known is heard: from the loudspeaker's buffer to the microphone's."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from companion.files.sound_format import SAMPLE_RATE

LONGEST = round(0.7 * SAMPLE_RATE)
"""Longest delay looked for, in samples: sound servers and wireless loudspeakers buffer up to half
a second."""
LOWEST, HIGHEST = 300.0, 5000.0
"""Band of speech looked at, in Hz."""
CLEAR = 10.0
"""How many times the usual size of the correlation its peak must be (``docs/hearing.md``)."""


def delay_of(heard: NDArray[np.float32], sounded: NDArray[np.float32]) -> int | None:
    """Return how many samples a sound is heard after it sounded; None where that is not clear.

    By the phase of the cross-spectrum alone (Knapp and Carter, "The generalized correlation method
    for estimation of time delay", 1976), which the colour of room and loudspeaker does not move.

    Args:
        heard: Shape (n,), from the microphone.
        sounded: Shape (n + ``LONGEST``,): ends at the same moment.
    """
    size = 1 << (len(heard) + len(sounded) - 1).bit_length()
    cross = np.fft.rfft(heard, size) * np.fft.rfft(sounded, size).conj()
    frequency = np.fft.rfftfreq(size, 1 / SAMPLE_RATE)
    cross[(frequency < LOWEST) | (frequency > HIGHEST)] = 0
    correlation = np.fft.irfft(cross / (np.abs(cross) + 1e-9 * np.abs(cross).max() + 1e-12), size)
    # A sound heard without any delay lies LONGEST into what sounded.
    lags = correlation[(np.arange(LONGEST + 1) - LONGEST) % size]
    usual = float(np.sqrt(np.mean(lags**2)))
    place = int(np.argmax(lags))
    return place if usual > 0 and lags[place] >= CLEAR * usual else None
