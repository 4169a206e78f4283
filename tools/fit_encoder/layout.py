"""What a folder to fit on holds: the names of its files, and the list of what is said in it.

Read where there is no ``companion``: nothing of it is imported here.
"""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
import soundfile
from numpy.typing import NDArray

SAMPLE_RATE = 16_000
"""Samples a second of every sound."""
CLIPS = "clips.jsonl"
"""A line a clip."""
HELD = "held.json"
"""Which speakers are kept back."""
MODEL = "model.npz"
"""The unchanged weights of encoder and decoder, in half precision, of the decoder's tokens only
those that are needed; besides ``start`` and ``end``, the tokens around a text."""
MEL = "mel.npy"
"""The triangular filters, shape (bands, Fourier bins)."""
CHECK = "check.npz"
"""A sound and what the program itself makes of it, to see that the same is computed here."""
ENCODER_CHANGES = "encoder_changes.npz"
PHONEMES = "phonemes.npz"
FITTED = (ENCODER_CHANGES, PHONEMES)
"""What is fitted, under the names that the program has for it; written elsewhere."""
NOISE_TO_FIT = "noise-fit"
NOISE_KEPT = "noise-kept"
"""Folders of noises, a file each; those that are kept back are for measuring alone."""


Ways = tuple[tuple[int, ...], ...]
"""Ways to write a text, each a list of tokens."""


@dataclass(frozen=True, slots=True)
class Rival:
    """What a clip might be taken for.

    Attributes:
        tokens: The ways to write it, in the order of the clip's.
        phonemes: As the clip has them.
    """

    tokens: Ways
    phonemes: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Clip:
    """Something said.

    Attributes:
        file: Name of the sound file in the folder: mono, ``SAMPLE_RATE``.
        start: Where in it the clip begins, in samples.
        end: Where it ends, in samples.
        tokens: The text as the decoder may write it, each way a list of tokens.
        phonemes: Indices as ``companion.recognize.phonemes`` has them; empty where the
            pronunciation of a word is not known.
        kind: Who says it.
        part: Whether it may be fitted on.
        rivals: What it might be taken for.
    """

    file: str
    start: int
    end: int
    tokens: Ways
    phonemes: tuple[int, ...]
    kind: Literal["people", "synthetic"]
    part: Literal["fit", "kept"]
    rivals: tuple[Rival, ...] = ()


def write_clips(folder: Path, clips: Iterable[Clip]) -> None:
    """Write the list of clips."""
    with (folder / CLIPS).open("w", encoding="utf-8") as file:
        for clip in clips:
            file.write(json.dumps(dataclasses.asdict(clip), separators=(",", ":")) + "\n")


def read_clips(folder: Path) -> list[Clip]:
    """Read the list of clips, in its order."""
    with (folder / CLIPS).open(encoding="utf-8") as file:
        rows = [json.loads(line) for line in file]
    return [
        Clip(
            **{
                **row,
                "tokens": _ways(row["tokens"]),
                "phonemes": tuple(row["phonemes"]),
                "rivals": tuple(
                    Rival(_ways(rival["tokens"]), tuple(rival["phonemes"]))
                    for rival in row.get("rivals", ())
                ),
            }
        )
        for row in rows
    ]


def _ways(tokens: Iterable[Iterable[int]]) -> Ways:
    return tuple(tuple(way) for way in tokens)


def write_sound(path: Path, samples: NDArray[np.float32]) -> None:
    """Write a sound as Ogg Opus, about a tenth of its size as samples."""
    path.parent.mkdir(parents=True, exist_ok=True)
    soundfile.write(path, samples, SAMPLE_RATE, format="OGG", subtype="OPUS", compression_level=0.9)


class Tape:
    """Sounds one after the other in one file, with a tenth of a second between them."""

    def __init__(self) -> None:
        self._parts: list[NDArray[np.float32]] = []
        self.samples = 0

    def add(self, sound: NDArray[np.float32]) -> tuple[int, int]:
        """Return where the sound begins and ends, in samples."""
        start = self.samples
        self._parts += [sound, np.zeros(SAMPLE_RATE // 10, dtype=np.float32)]
        self.samples += len(sound) + SAMPLE_RATE // 10
        return start, start + len(sound)

    def write(self, path: Path) -> None:
        """Write the file."""
        write_sound(path, np.concatenate(self._parts))
