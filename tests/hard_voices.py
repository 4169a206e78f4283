"""Voices that are hard to hear: foreign accents, hurried, muffled, whispered or croaking speech.

Accents are made by putting other phonemes in espeak-ng's own transcription of a call; which ones
is common knowledge of how speakers of other languages say English, from memory. Nobody is
imitated.
"""

from __future__ import annotations

import re
import subprocess
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
import soxr

from companion.files.sound_format import SAMPLE_RATE
from tests import sounds
from tests.sounds import Samples, Voice

Swaps = tuple[tuple[str, str], ...]
"""Phonemes, each with the one that is said in its place."""


@dataclass(frozen=True)
class HardVoice:
    """One way to speak.

    Attributes:
        voice: Who speaks.
        rate: 1 is the voice's own pace.
        swaps: Phonemes of espeak-ng, each with what is said in its place.
        pitch: Above 1 another throat, higher and faster.
        highest: Frequency in Hz above which a mask or a bad microphone lets nothing through.
    """

    voice: Voice
    rate: float = 1.0
    swaps: Swaps = ()
    pitch: float = 1.0
    highest: float | None = None


def _espeak(name: str) -> Voice:
    return Voice("espeak-ng", name)


_GERMAN = (("w", "v"), ("T", "s"), ("D", "z"), ("V", "a"), ("dZ", "tS"), ("3:", "E3"), ("r", "R"))
_SPANISH: Swaps = (
    ("I", "i"),
    ("I#", "i"),
    ("V", "a"),
    ("z", "s"),
    ("D", "d"),
    ("T", "t"),
    ("@", "a"),
)
_SPANISH += (("v", "b"), ("dZ", "j"), ("Z", "s"), ("a#", "a"), ("I2", "i"))
_INDIAN = (("T", "t"), ("D", "d"), ("w", "v"), ("V", "a"), ("3:", "a"), ("z", "s"))
_FRENCH: Swaps = (
    ("h", ""),
    ("T", "s"),
    ("D", "z"),
    ("I", "i"),
    ("I#", "i"),
    ("r", "R"),
    ("V", "a"),
)
_FRENCH += (("tS", "S"), ("dZ", "Z"), ("I2", "i"))
_RUSSIAN = (("T", "s"), ("D", "z"), ("w", "v"), ("h", "x"), ("I", "i"), ("V", "a"), ("3:", "o"))

HARD_VOICES: Mapping[str, HardVoice] = {
    "german": HardVoice(_espeak("en-us+m1"), swaps=_GERMAN),
    "german-woman": HardVoice(_espeak("en-gb+f3"), swaps=_GERMAN),
    "spanish": HardVoice(_espeak("en-us+m7"), swaps=_SPANISH),
    "spanish-woman": HardVoice(_espeak("en-us+f2"), swaps=_SPANISH),
    "indian": HardVoice(_espeak("en-gb+m5"), swaps=_INDIAN),
    "french": HardVoice(_espeak("en-us+m4"), swaps=_FRENCH),
    "russian": HardVoice(_espeak("en-us+m2"), swaps=_RUSSIAN),
    "whisper": HardVoice(_espeak("en-us+whisper")),
    "croak": HardVoice(_espeak("en-us+croak")),
    "klatt6": HardVoice(_espeak("en-us+klatt6")),
    "new-york": HardVoice(_espeak("en-us-nyc")),
    "scots-hurried": HardVoice(_espeak("en-gb-scotland"), rate=1.45),
    "kal-hurried": HardVoice(Voice("festival", "kal_diphone"), rate=1.4),
    "awb-hurried": HardVoice(Voice("flite", "awb"), rate=1.5),
    "awb-muffled": HardVoice(Voice("flite", "awb"), highest=1500.0),
    "rms-muffled": HardVoice(Voice("flite", "rms"), highest=1500.0),
    "slt-child": HardVoice(Voice("flite", "slt"), pitch=1.35),
    "rms-deep": HardVoice(Voice("flite", "rms"), pitch=0.75),
}


def speak_hard(text: str, name: str) -> Samples:
    """Speak a call with one of ``HARD_VOICES``: shape (n,), peak about 0.5."""
    return _spoken(text, name).copy()


@cache
def _spoken(text: str, name: str) -> Samples:
    hard = HARD_VOICES[name]
    said = _in_accent(text, hard) if hard.swaps else text
    sound = sounds._speak(said, hard.voice, hard.rate)
    if hard.pitch != 1.0:
        sound = np.asarray(soxr.resample(sound, SAMPLE_RATE * hard.pitch, SAMPLE_RATE), np.float32)
    if hard.highest is not None:
        low = soxr.resample(sound, SAMPLE_RATE, 2 * hard.highest)
        sound = np.asarray(soxr.resample(low, 2 * hard.highest, SAMPLE_RATE), np.float32)
    return sounds._level(sounds._trim(sound), peak=0.5)


def _in_accent(text: str, hard: HardVoice) -> str:
    words = " ".join("[[T'aU]]" if word == "thou" else word for word in text.split())
    run = subprocess.run(
        ["espeak-ng", "-q", "--sep= ", "-x", "-v", hard.voice.name, words],
        capture_output=True,
        text=True,
        check=True,
    )
    swapped = swap(run.stdout, dict(hard.swaps))
    return f"[[{swapped}]]"


def swap(transcription: str, swaps: Mapping[str, str]) -> str:
    """Put other phonemes into a transcription of espeak-ng whose phonemes stand apart; marks of
    stress stay before them."""

    def one(phoneme: str) -> str:
        stress = phoneme[: len(phoneme) - len(phoneme.lstrip("',%=_"))]
        return stress + swaps.get(phoneme[len(stress) :], phoneme[len(stress) :])

    words = re.split(r"\s\s+|\n", transcription.strip())
    return " ".join("|".join(filter(None, map(one, word.split()))) for word in words)
