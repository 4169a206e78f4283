"""People's speech to fit on, and the speakers that are kept back to measure by.

The folder is laid out as ``tools/hearing/people.py`` says; besides, each line of ``segments.jsonl``
has the ``age`` of the speaker, in years. What was fitted was fitted on speechocean762 (Zhang et
al., 2021, arXiv 2104.01378), which its own page gives for free download for both commercial and
non-commercial purposes.
"""

from __future__ import annotations

import random
import shutil
from collections.abc import Mapping
from pathlib import Path

import soundfile
from pydantic import BaseModel, Field, ValidationError

from companion.audio.files import read_sound
from companion.errors import CompanionError
from tools.fit_encoder.index import RivalsOf, Tokens, phonemes_of, tokens_of
from tools.fit_encoder.layout import SAMPLE_RATE, Clip, write_sound
from tools.hearing.people import SEGMENTS, sentences

CHILDREN_HELD = 4
ADULTS_HELD = 14
GROWN_UP = 18
"""Years."""
_DRAWN_FROM = 3


class _Aged(BaseModel):
    speaker: str
    age: int = Field(ge=0)


def held_back(ages: Mapping[str, int]) -> frozenset[str]:
    """Draw the speakers to measure by, the same ones every time.

    Args:
        ages: In years, by speaker.
    """
    draw = random.Random(_DRAWN_FROM)
    children = [speaker for speaker in sorted(ages) if ages[speaker] < GROWN_UP]
    adults = [speaker for speaker in sorted(ages) if ages[speaker] >= GROWN_UP]
    draw.shuffle(children)
    draw.shuffle(adults)
    return frozenset(children[:CHILDREN_HELD] + adults[:ADULTS_HELD])


def ages_in(folder: Path) -> dict[str, int]:
    """Read the age of every speaker, in years.

    Raises:
        CompanionError: If a line has none.
    """
    ages: dict[str, int] = {}
    lines = (folder / SEGMENTS).read_text(encoding="utf-8").splitlines()
    for number, line in enumerate(lines, start=1):
        if not line:
            continue
        try:
            one = _Aged.model_validate_json(line)
        except ValidationError as error:
            raise CompanionError(
                f"{folder / SEGMENTS}, line {number}: give the speaker's age, in whole years."
            ) from error
        ages[one.speaker] = one.age
    return ages


def clips_of(
    folder: Path, to: Path, tokens: Tokens, rivals: RivalsOf
) -> tuple[list[Clip], frozenset[str]]:
    """Bring people's speech to a folder to fit on.

    Args:
        folder: People's speech.
        to: The folder to fit on.
        tokens: Makes the tokens of a text.
        rivals: Makes what a text might be taken for.

    Returns:
        The clips, and the speakers that are kept back.

    Raises:
        CompanionError: If the folder is not in its layout, or a sound file cannot be read.
    """
    found = sentences(folder)
    held = held_back(ages_in(folder))
    names = {
        name: _brought(folder / name, to)
        for name in dict.fromkeys(sentence.file for sentence in found)
    }
    clips = [
        Clip(
            names[sentence.file],
            round(sentence.start * SAMPLE_RATE),
            round(sentence.end * SAMPLE_RATE),
            tokens_of(sentence.text, tokens),
            phonemes_of(sentence.text),
            "people",
            "kept" if sentence.speaker in held else "fit",
            rivals(sentence.text),
        )
        for sentence in found
    ]
    return clips, held


def _brought(source: Path, to: Path) -> str:
    """Copy a sound file as it is, if it has our rate, and return its name."""
    sound = read_sound(source)
    info = soundfile.info(source)
    if (info.samplerate, info.channels) == (SAMPLE_RATE, 1):
        shutil.copyfile(source, to / source.name)
        return source.name
    write_sound(to / f"{source.name}.ogg", sound)
    return f"{source.name}.ogg"
