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
    level = measure_level(samples)
    found: list[Trouble] = []
    if level.peak < SILENT_PEAK:
        found.append("silent")
    if level.clipped >= CLIPPED_SHARE:
        found.append("clipped")
    return tuple(found)


@dataclass(frozen=True, slots=True)
class LevelCheck:
    """What a test recording says about the microphone.

    Attributes:
        verdict: ``good``, or what is wrong.
        advice: One plain sentence.
    """

    verdict: Literal["good", "silent", "quiet", "clipped"]
    advice: str


def check_level(samples: NDArray[np.float32]) -> LevelCheck:
    """Judge a few seconds of someone speaking into the microphone.

    Args:
        samples: Shape (n,), mono, -1 to 1.
    """
    level = measure_level(samples)
    if level.peak < SILENT_PEAK:
        return LevelCheck(
            "silent", "The microphone gives silence; check that it is plugged in and not muted."
        )
    if level.clipped >= CLIPPED_SHARE:
        return LevelCheck(
            "clipped", "The microphone is overloaded; turn its level down or hold it further away."
        )
    if level.peak < QUIET_SPEECH:
        return LevelCheck(
            "quiet", "The microphone is very quiet; turn its level up or bring it closer."
        )
    return LevelCheck("good", f"The microphone level is good (loudest {level.peak:.0f} dB).")


def _decibels(amplitude: float) -> float:
    return max(_LOWEST, 20 * math.log10(amplitude)) if amplitude > 0 else _LOWEST
