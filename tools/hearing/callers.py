"""Who calls: synthetic voices that nothing was fitted on."""

from __future__ import annotations

import random
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import soxr

from companion.files.sound_format import SAMPLE_RATE
from tests.sounds import Samples, speak
from tools.fit_encoder.many_voices import KEPT, ManyVoices
from tools.hearing.material import OTHER_VOICES


@dataclass(frozen=True, slots=True)
class Voices:
    """Some voices, and what speaks with them.

    Attributes:
        names: Short names, as ``tests.sounds`` has them or the package of neural voices.
        package: Where these are unpacked (``tools/fit_encoder/many_voices.py``), or None.
    """

    names: tuple[str, ...] = OTHER_VOICES
    package: Path | None = None

    def say(self, text: str, voice: str, pace: float, pitch: float) -> Samples:
        """Speak.

        Args:
            text: Words.
            voice: One of ``names``.
            pace: 1 is the voice's own.
            pitch: 1 is the voice's own; the pace goes with it.

        Returns:
            Shape (n,), 16 kHz, peak about 0.5, without silence around it.
        """
        if self.package is None:
            speech = speak(text, voice, rate=pace)
        else:
            speech = _many(self.package).speak(text, voice, pace)
        if pitch != 1:
            other = soxr.resample(speech, SAMPLE_RATE, SAMPLE_RATE / pitch)
            speech = np.asarray(other, dtype=np.float32)
        return speech


USUAL = Voices()


def neural(package: Path) -> Voices:
    """The neural voices that nothing was fitted on, all of them being unpacked in a folder."""
    return Voices(KEPT, package)


@cache
def _many(package: Path) -> ManyVoices:
    return ManyVoices(package, random.Random(0))
