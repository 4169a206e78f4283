"""A folder as ``tools.hearing --people`` reads it, and packages with noises, made for tests: voices
of programs stand in for people, computed noises for recordings."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import soundfile

from companion.files.sound_format import SAMPLE_RATE
from tests.noises import NOISES
from tests.sounds import Samples, pause, speak
from tools.fit_encoder.noises import PACKAGES
from tools.hearing.people import SEGMENTS


def people_in(folder: Path, said: Sequence[tuple[str, str, int, str]]) -> Path:
    """A folder with a sound file for each sentence.

    Args:
        folder: Where.
        said: Voice (the speaker's name too), text, age and gender.
    """
    lines = []
    for number, (voice, text, age, gender) in enumerate(said):
        file, sound = f"{number}.flac", speak(text, voice)
        soundfile.write(folder / file, sound, SAMPLE_RATE)
        lines.append(
            {
                "file": file,
                "start": 0.0,
                "end": len(sound) / SAMPLE_RATE,
                "text": text,
                "speaker": voice,
                "age": age,
                "gender": gender,
            }
        )
    text = "".join(f"{json.dumps(line)}\n" for line in lines)
    (folder / SEGMENTS).write_text(text, encoding="utf-8")
    return folder


def packages_in(root: Path, names: Sequence[str] = ("engine", "radio", "grinder")) -> Path:
    """Below a root, every package of noises with a sound for each of these names."""
    for package in PACKAGES:
        for name in names:
            pattern = package.patterns[0].replace("*", name)
            file = root / package.folder / pattern
            file.parent.mkdir(parents=True, exist_ok=True)
            if file.suffix == ".ogg":
                sound = NOISES[name](20.0, seed=1)
                soundfile.write(file, sound, SAMPLE_RATE, format="OGG", subtype="VORBIS")
            else:
                soundfile.write(file, NOISES[name](3.0, seed=1), SAMPLE_RATE)
    return root


def one_after_the_other(words: Sequence[str], voice: str) -> tuple[Samples, list[tuple[int, int]]]:
    """Words said singly with pauses between them, and where each of them lies."""
    parts: list[Samples] = [pause(0.3)]
    places = []
    for word in words:
        begin = sum(map(len, parts))
        parts += [speak(word, voice), pause(0.2)]
        places.append((begin, begin + len(parts[-2])))
    return np.concatenate([*parts, pause(0.4)]), places
