"""What the companion itself sounds, and when: the side of the echo that is known exactly."""

from __future__ import annotations

import threading
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from companion.audio.resample import resample
from companion.files.sound_format import SAMPLE_RATE

KEPT_SECONDS = 30.0
"""How long a sound is remembered after it has ended, in seconds: many times any echo."""


@dataclass(slots=True)
class _Sounded:
    samples: NDArray[np.float32]
    at: float
    cut_at: float | None = None

    @property
    def end(self) -> float:
        whole = self.at + len(self.samples) / SAMPLE_RATE
        return whole if self.cut_at is None else min(whole, self.cut_at)


class OwnSound:
    """The sounds that were given to the loudspeaker, on the clock of ``time.monotonic``.

    That clock is one for all programs of a computer, so that a voice in another program can tell.
    Any thread may tell and ask.

    Attributes:
        known: Whether all that sounds now is known here; not while an engine speaks by itself.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._sounded: list[_Sounded] = []
        self.known = True

    def began(self, samples: NDArray[np.float32], at: float, rate: int = SAMPLE_RATE) -> None:
        """Take in a sound that begins.

        Args:
            samples: Shape (n,), mono, -1 to 1.
            at: When its first sample was given to the device, in seconds.
            rate: Of the samples, in Hz.
        """
        sound = resample(samples, rate, SAMPLE_RATE)
        with self._lock:
            self._sounded = [each for each in self._sounded if at - each.end < KEPT_SECONDS]
            self._sounded.append(_Sounded(sound, at))

    def ended(self, at: float) -> None:
        """Take in that nothing sounds any more: what was left of the last sound was cut short."""
        with self._lock:
            if self._sounded and self._sounded[-1].cut_at is None:
                self._sounded[-1].cut_at = at

    def between(self, begin: float, count: int) -> NDArray[np.float32]:
        """Return what sounded, with silence where nothing did.

        Args:
            begin: From when, in seconds.
            count: How many samples.
        """
        found = np.zeros(count, dtype=np.float32)
        with self._lock:
            for each in self._sounded:
                place = round((each.at - begin) * SAMPLE_RATE)
                length = min(len(each.samples), round((each.end - each.at) * SAMPLE_RATE))
                first, last = max(0, place), min(count, place + length)
                if first < last:
                    found[first:last] = each.samples[first - place : last - place]
        return found

    def quiet_for(self, at: float) -> float:
        """How long nothing has sounded by a moment, in seconds; infinite where nothing ever did."""
        with self._lock:
            if not self._sounded:
                return float("inf")
            return max(0.0, at - max(each.end for each in self._sounded))
