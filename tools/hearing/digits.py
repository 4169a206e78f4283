"""Strings of digits put together from the digits of people: the few that free packages have.

- A woman of Debian's ``asterisk-core-sounds-en-g722`` (CC BY-SA 3.0), see ``human.py``.
- The voice of the package ``spokennumbers`` of the package index (MIT License), which reads out
  digits at competitions of memory. The package does not say whose it is.

Each digit is one recording, so that strings differ in their order, their pauses and in what they
are heard over: this is two voices, and no more.
"""

from __future__ import annotations

import importlib.util
import random
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path

import numpy as np
import soundfile

from tests.sounds import Samples, resample
from tools.hearing import human
from tools.hearing.closed import Task
from tools.hearing.word_strings import STRING, any_string_of, joined

DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
EACH = 60
"""Strings of each voice."""
PACKAGE = "spokennumbers"
_QUIET = 0.02
"""Of the peak; what is softer before and after a word is no more of it."""


def tasks() -> tuple[list[Task], list[str]]:
    """Put strings together.

    Returns:
        Strings of every voice that is there, and a sentence on each that is not.
    """
    found: list[Task] = []
    missing = []
    for voice, word in VOICES.items():
        try:
            words = {digit: word(digit) for digit in DIGITS}
        except (AssertionError, OSError) as error:
            missing.append(f"The digits of {voice} are left out. {error}")
            continue
        found += _strings(voice, words)
    return found, missing


def _strings(voice: str, words: Mapping[str, Samples]) -> list[Task]:
    draw = random.Random(voice)
    strings = []
    for _ in range(EACH):
        said = [draw.choice(DIGITS) for _ in range(draw.randint(*STRING))]
        sound = joined([words[digit] for digit in said], draw)
        strings.append(
            Task(
                voice,
                " ".join(said),
                any_string_of([*DIGITS, "oh"]),
                np.asarray(sound * (0.5 / np.abs(sound).max()), dtype=np.float32),
                draw.randrange(10**6),
            )
        )
    return strings


@cache
def _memory_digit(name: str) -> Samples:
    found = importlib.util.find_spec(PACKAGE)
    if found is None or found.origin is None:
        raise AssertionError(f"Install them with: pip install {PACKAGE}==1.0.0.")
    file = Path(found.origin).parent / "default" / f"{DIGITS.index(name)}.wav"
    samples, rate = soundfile.read(file, dtype="float32")
    sound = resample(samples, rate)
    loud = np.flatnonzero(np.abs(sound) > _QUIET * np.abs(sound).max())
    return sound[loud[0] : loud[-1] + 1]


VOICES: Mapping[str, Callable[[str], Samples]] = {
    f"the woman of {human.PACKAGE}": human.word,
    f"the voice of {PACKAGE}": _memory_digit,
}
"""Who says digits: each gives the sound of one."""
