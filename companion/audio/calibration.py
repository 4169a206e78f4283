"""The first seconds of a session: what the microphone gives before anybody speaks."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from companion.audio.levels import CLIPPED_SHARE, Level, measure_level
from companion.audio.noise_floor import FRAME, NoiseFloor, band_power, decibels
from companion.audio.silence import NOTHING
from companion.audio.silence import SENTENCE as SILENT
from companion.files.sound_format import SAMPLE_RATE

SECONDS = 2.5
"""Length of that stretch, in seconds; calls made in it are heard as usual."""
LOUD_FLOOR = -34.0
"""Noise, in the speech band, in dB of full scale, from which a shop is told to be very loud. A
voice of usual level (-20 dB) lies 10 dB over an engine or a compressor at -37, 5 dB at -32."""
OVERLOADED = "The microphone is overloaded; turn its level down."
LOUD = "It is very loud in here; come closer to the microphone."
_FLOOR_SHARE = 0.15
_SMOOTHED = 5
"""Frames that the energy is averaged over, as in the segmenter."""
_LOWEST = -90.0


@dataclass(frozen=True, slots=True)
class Calibration:
    """What was found.

    Attributes:
        level: Of all of it.
        noise_floor: In the band that speech is told by, in dB of full scale.
        silent: The microphone gives nothing at all.
    """

    level: Level
    noise_floor: float
    silent: bool

    @property
    def verdict(self) -> Literal["good", "silent", "overloaded", "loud"]:
        """What this says about microphone and shop."""
        if self.silent:
            return "silent"
        if self.level.clipped >= CLIPPED_SHARE:
            return "overloaded"
        return "loud" if self.noise_floor >= LOUD_FLOOR else "good"

    @property
    def trouble(self) -> str | None:
        """What is wrong and what to do, in one sentence; None where nothing is."""
        return {"good": None, "silent": SILENT, "overloaded": OVERLOADED, "loud": LOUD}[
            self.verdict
        ]


def calibrate(samples: NDArray[np.float32]) -> Calibration:
    """Measure a stretch of sound in which hardly anybody speaks.

    Args:
        samples: Shape (n,), mono, -1 to 1, at ``SAMPLE_RATE``.
    """
    frames = len(samples) // FRAME
    floor = NoiseFloor(max(1, frames), _FLOOR_SHARE, _LOWEST)
    recent: deque[float] = deque(maxlen=_SMOOTHED)
    for number in range(frames):
        recent.append(band_power(samples[number * FRAME : (number + 1) * FRAME]))
        floor.follow(decibels(sum(recent) / len(recent)))
    silent = len(samples) == 0 or float(np.ptp(samples)) < NOTHING
    return Calibration(measure_level(samples), floor.level, silent)


class Calibrating:
    """Gathers the first blocks of a stream and tells once what they say.

    Args:
        seconds: How long to listen.
    """

    def __init__(self, seconds: float = SECONDS) -> None:
        self._wanted = round(seconds * SAMPLE_RATE)
        self._blocks: list[NDArray[np.float32]] = []
        self._over = False

    def feed(self, block: NDArray[np.float32]) -> Calibration | None:
        """Take the next block; the calibration comes with the one that completes it."""
        if self._over:
            return None
        self._blocks.append(block)
        if sum(map(len, self._blocks)) < self._wanted:
            return None
        self._over = True
        found = calibrate(np.concatenate(self._blocks))
        self._blocks = []
        return found
