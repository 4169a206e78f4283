"""Short tones that answer before speech does: told apart by pitch and rhythm, even in noise.

They lie between 500 and 1800 Hz, where hearing is good and an engine is weak. Rising means
recorded, a rise that stays up asks, falling means not understood; ring and warning repeat.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from companion.files.sound_format import SAMPLE_RATE

PEAK = 0.4
"""Loudest sample; a tone must be noticed, not feared."""
EDGE_SECONDS = 0.008
"""Fade in and out of every note, in seconds: shorter ones click."""

ToneName = Literal["recorded", "question", "not-understood", "ring", "warning", "none"]


@dataclass(frozen=True, slots=True)
class Note:
    """One note: its pitch in Hz (0: a pause) and its length in seconds."""

    pitch: float
    seconds: float


TONES: Mapping[ToneName, tuple[Note, ...]] = MappingProxyType(
    {
        "recorded": (Note(880, 0.06), Note(1320, 0.10)),
        "question": (
            Note(660, 0.06),
            Note(0, 0.03),
            Note(990, 0.06),
            Note(0, 0.03),
            Note(990, 0.06),
        ),
        "not-understood": (Note(740, 0.09), Note(494, 0.14)),
        "ring": (Note(1175, 0.12), Note(1568, 0.12)) * 3,
        "warning": (Note(1760, 0.10), Note(0, 0.04)) * 5,
        "none": (),
    }
)
"""What each tone is made of."""


@cache
def tone(name: ToneName) -> NDArray[np.float32]:
    """Return a tone's samples.

    Args:
        name: A key of ``TONES``; ``none`` gives no samples.

    Returns:
        Shape (n,), mono, at ``SAMPLE_RATE``; at most 0.25 s, ring and warning at most 0.8 s.
    """
    notes = [_played(note) for note in TONES[name]]
    return np.concatenate([*notes, np.zeros(0, dtype=np.float32)])


def _played(note: Note) -> NDArray[np.float32]:
    count = round(note.seconds * SAMPLE_RATE)
    if note.pitch == 0:
        return np.zeros(count, dtype=np.float32)
    time = np.arange(count) / SAMPLE_RATE
    # A little of the second harmonic carries through small loudspeakers.
    wave = np.sin(2 * np.pi * note.pitch * time) + 0.25 * np.sin(4 * np.pi * note.pitch * time)
    edge = round(EDGE_SECONDS * SAMPLE_RATE)
    rise = np.sin(np.linspace(0, np.pi / 2, edge)) ** 2
    wave[:edge] *= rise
    wave[-edge:] *= rise[::-1]
    scaled: NDArray[np.float32] = (PEAK * wave / np.max(np.abs(wave))).astype(np.float32)
    return scaled
