"""How loud sound is, and what is wrong with it: silent, clipped, or just right."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from companion.audio.utterance import Trouble

SILENT_PEAK = -60.0
"""Loudest sample, in dB of full scale, below which an input is muted or dead."""
FULL_SCALE = 0.999
"""Share of full scale from which a sample counts as clipped; 16-bit sound tops out at 0.99997."""
CLIPPED_SHARE = 0.003
"""Share of samples at full scale from which a stretch counts as clipped; sound that was merely
scaled to its peak has a handful of such samples."""
QUIET_SPEECH = -45.0
"""Loudest sample, in dB of full scale, below which speech drowns in the noise of cheap inputs."""

_LOWEST = -120.0


@dataclass(frozen=True, slots=True)
class Level:
    """The loudness of a stretch of sound.

    Attributes:
        rms: Root mean square, in dB of full scale; -120 for digital silence.
        peak: Loudest sample, in dB of full scale; -120 for digital silence.
        clipped: Share of samples at full scale, 0 to 1.
    """

    rms: float
    peak: float
    clipped: float

    @property
    def verdict(self) -> Literal["good", "silent", "quiet", "clipped"]:
        """What this says about a microphone that someone speaks into."""
        if self.peak < SILENT_PEAK:
            return "silent"
        if self.clipped >= CLIPPED_SHARE:
            return "clipped"
        return "quiet" if self.peak < QUIET_SPEECH else "good"

    @property
    def sentence(self) -> str:
        """The verdict in one plain sentence that says what to do."""
        match self.verdict:
            case "silent":
                return "The microphone gives silence; check that it is plugged in and not muted."
            case "clipped":
                return "The microphone is overloaded; turn its level down or move it further away."
            case "quiet":
                return "The microphone is very quiet; turn its level up or bring it closer."
            case "good":
                return f"The microphone level is good (loudest {self.peak:.0f} dB of full scale)."


def measure_level(samples: NDArray[np.float32]) -> Level:
    """Measure a stretch of sound.

    Args:
        samples: Shape (n,), mono, -1 to 1; may be empty.
    """
    if len(samples) == 0:
        return Level(rms=_LOWEST, peak=_LOWEST, clipped=0.0)
    wide = samples.astype(np.float64)
    loudest = float(np.max(np.abs(wide)))
    return Level(
        rms=_decibels(float(np.sqrt(np.mean(wide**2)))),
        peak=_decibels(loudest),
        clipped=float(np.mean(np.abs(wide) >= FULL_SCALE)),
    )


def troubles(samples: NDArray[np.float32]) -> tuple[Trouble, ...]:
    """Say whether a stretch of sound is silent or clipped.

    Args:
        samples: Shape (n,), mono, -1 to 1.
    """
    verdict = measure_level(samples).verdict
    return (verdict,) if verdict in ("silent", "clipped") else ()


def _decibels(amplitude: float) -> float:
    return max(_LOWEST, 20 * math.log10(amplitude)) if amplitude > 0 else _LOWEST
