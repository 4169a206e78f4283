"""A microphone that is there and gives nothing: muted, or dead."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from companion.audio.utterance import SAMPLE_RATE

NOTHING = 2e-4
"""Of full scale, between the lowest and the highest sample of a block: a live input's own noise is
above it, a muted one gives a constant, give or take the last bit."""
SILENT_SECONDS = 8.0
"""How long nothing must come before it counts as silence."""
GROWTH = 4
"""Each time that sound came again by itself, silence must last this many times longer: a headset
that closes its own microphone between words is not muted."""
LONGEST_SECONDS = 600.0
SENTENCE = "The microphone gives silence; check that it is not muted."


class SilenceWatch:
    """Tells once when a microphone gives silence, and again only after sound had come."""

    def __init__(self) -> None:
        self._needed = SILENT_SECONDS
        self._silent = 0.0
        self._told = False

    def told(self) -> None:
        """Note that silence was told of already."""
        self._told = True

    def feed(self, block: NDArray[np.float32]) -> bool:
        """Take the next block and return whether silence is to be told now.

        Args:
            block: Shape (n,), mono, -1 to 1, at ``SAMPLE_RATE``.
        """
        if len(block) == 0:
            return False
        if float(np.ptp(block)) >= NOTHING:
            if self._told:
                self._needed = min(self._needed * GROWTH, LONGEST_SECONDS)
            self._silent = 0.0
            self._told = False
            return False
        self._silent += len(block) / SAMPLE_RATE
        if self._told or self._silent < self._needed:
            return False
        self._told = True
        return True
