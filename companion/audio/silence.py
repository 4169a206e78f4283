"""A microphone that is there and gives nothing: muted, or dead."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from companion.files.sound_format import SAMPLE_RATE

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
SOUND_AGAIN = "The microphone gives sound again."
STEADY_SECONDS = 1.0
"""Seconds of sound after a reported silence before its end is reported: a call that begins
meanwhile comes first."""

ANEW_SECONDS = 10.0
"""How long nothing must come before a microphone is opened anew; twice as long each time after."""
LONGEST_ANEW_SECONDS = 60.0


class SilenceWatch:
    """Tells once when a microphone gives silence, and again only after sound had come; and when it
    comes again."""

    def __init__(self) -> None:
        self._needed = SILENT_SECONDS
        self._silent = 0.0
        self._told = False
        self._again: float | None = None

    def told(self) -> None:
        """Note that silence was already reported."""
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
                self._again = 0.0
            if self._again is not None:
                self._again += len(block) / SAMPLE_RATE
            self._silent = 0.0
            self._told = False
            return False
        self._silent += len(block) / SAMPLE_RATE
        if self._told or self._silent < self._needed:
            return False
        self._told = True
        self._again = None
        return True

    def over(self, *, speaking: bool) -> bool:
        """Return, once, whether it is to be told that sound comes again.

        Args:
            speaking: Whether a call is under way; telling of it now would cost the call.
        """
        if self._again is None or speaking or self._again < STEADY_SECONDS:
            return False
        self._again = None
        return True


class OpeningAnew:
    """When to open a silent microphone again. A sound server replaces a device that is taken away
    by another one, if need be by the loudspeaker's own echo, and keeps it when the microphone is
    back. Opening a muted microphone again does no harm."""

    def __init__(self) -> None:
        self._needed = ANEW_SECONDS
        self._silent = 0.0

    def feed(self, block: NDArray[np.float32]) -> bool:
        """Take the next block and return whether to open it anew now; see ``SilenceWatch``."""
        if len(block) and float(np.ptp(block)) >= NOTHING:
            self._silent = 0.0
            return False
        self._silent += len(block) / SAMPLE_RATE
        if self._silent < self._needed:
            return False
        self._silent = 0.0
        self._needed = min(2 * self._needed, LONGEST_ANEW_SECONDS)
        return True
