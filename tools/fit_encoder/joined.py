"""Short clips one after the other with pauses between them, as numbers are said digit by digit.

A clip of its own is one stretch of speech. What is fitted on nothing else takes a word that a pause
sets apart for a noise: of digits with pauses between them the first were lost.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from tools.fit_encoder.layout import SAMPLE_RATE, Clip, Rival, Ways

SHORT = 1.1
"""Seconds of a clip that is joined to others."""
PARTS = (2, 5)
PAUSES = (0.03, 0.5)
"""Seconds between two of them."""
LONGEST = 5.5
"""Seconds of all together."""
JOINED = 0.25
"""As many as this share of the clips to fit on."""
FILE = "joined"
"""In the place of a file's name."""
_DRAWN_FROM = 7
_Sound = NDArray[np.int16]


def joined(clips: Sequence[Clip], sounds: Mapping[str, _Sound]) -> tuple[list[Clip], _Sound]:
    """Join short clips to fit on.

    Args:
        clips: All that there are.
        sounds: The samples of each file.

    Returns:
        The new clips, and the samples that they are in, one after the other.
    """
    draw = random.Random(_DRAWN_FROM)
    short = [
        clip
        for clip in clips
        if clip.part == "fit" and clip.phonemes and clip.end - clip.start < SHORT * SAMPLE_RATE
    ]
    wanted = round(JOINED * sum(clip.part == "fit" for clip in clips)) if short else 0
    made: list[Clip] = []
    pieces: list[_Sound] = []
    at = 0
    for _ in range(wanted):
        parts = [draw.choice(short) for _ in range(draw.randint(*PARTS))]
        sound = _with_pauses([sounds[one.file][one.start : one.end] for one in parts], draw)
        if len(sound) < LONGEST * SAMPLE_RATE:
            made.append(_as_one(parts, at, at + len(sound), draw))
            pieces.append(sound)
            at += len(sound)
    return made, np.concatenate(pieces) if pieces else np.zeros(0, dtype=np.int16)


def _with_pauses(parts: Sequence[_Sound], draw: random.Random) -> _Sound:
    pieces: list[_Sound] = []
    for part in parts:
        pause = np.zeros(round(draw.uniform(*PAUSES) * SAMPLE_RATE), dtype=np.int16)
        pieces += [part, pause]
    return np.concatenate(pieces[:-1])


def _as_one(parts: Sequence[Clip], start: int, end: int, draw: random.Random) -> Clip:
    """One of the parts has a rival."""
    at = draw.randrange(len(parts))
    rivals = (Rival(*_said([*parts[:at], rival, *parts[at + 1 :]])) for rival in parts[at].rivals)
    tokens, phonemes = _said(parts)
    return Clip(FILE, start, end, tokens, phonemes, "synthetic", "fit", tuple(rivals))


def _said(parts: Sequence[Clip | Rival]) -> tuple[Ways, tuple[int, ...]]:
    """Tokens, in small letters but for the first word, and phonemes."""
    first, *others = parts
    rest = tuple(chain.from_iterable(one.tokens[0] for one in others))
    phonemes = tuple(chain.from_iterable(one.phonemes for one in parts))
    return tuple((*way, *rest) for way in first.tokens), phonemes
