"""A human voice: number words and spoken sentences from a Debian package.

``asterisk-core-sounds-en-g722`` (Creative Commons BY-SA 3.0) holds single words and the sentences
of a telephone exchange, spoken by one woman, G.722 at 16 kHz. No call of ours is among them: whole
numbers are put together from its words, and its sentences are talk that is no call.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
from num2words import num2words

from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import CallGrammar
from companion.grammar.files import read_rules
from tests.ffmpeg import ffmpeg
from tests.sounds import Samples, pause

PACKAGE = "asterisk-core-sounds-en-g722"
SOUNDS = Path("/usr/share/asterisk/sounds")
# "en" is a link that another package makes; without it the voice has a folder of its own.
FOLDER = next(iter(sorted(SOUNDS.glob("en*"))), SOUNDS / "en")
SAMPLES_A_BYTE = 2
"""At 16 kHz and 64 kbit/s."""
SHORTEST_SENTENCE = 2.0
"""Seconds; shorter prompts are single words, some of which are words of ours."""
_SMALL = [num2words(number) for number in range(20)]
_ONES, _TEENS = _SMALL[:10], _SMALL[10:]
_TENS = [num2words(number) for number in range(20, 100, 10)]
_FILES = {
    **{word: str(number) for number, word in enumerate(_SMALL)},
    **{word: str(10 * number) for number, word in enumerate(_TENS, start=2)},
    "hundred": "hundred",
    "minus": "minus",
}
NUMBERS: tuple[str, ...] = (
    *_ONES[1:],
    *_TEENS,
    *_TENS,
    *(f"{tens} {_ONES[1 + place % 9]}" for place, tens in enumerate(_TENS * 2)),
    *(f"{one} hundred" for one in _ONES[1:]),
    *(f"one {word}" for word in (*_TEENS[1::2], *_TENS)),
    "minus five",
    "minus twelve",
)
"""What the human words are put together to."""


@cache
def word(name: str) -> Samples:
    """One word, with the silence around it cut off: shape (n,)."""
    samples = _read(FOLDER / "digits" / f"{_FILES[name]}.g722")
    loud = np.flatnonzero(np.abs(samples) > 0.02 * np.abs(samples).max())
    return samples[loud[0] : loud[-1] + 1]


def said(number: str, gap: float = 0.05) -> Samples:
    """A number of several words, one after the other, peak 0.5."""
    parts = [part for name in number.split() for part in (pause(gap), word(name))]
    whole = np.concatenate(parts)
    return np.asarray(whole * 0.5 / np.abs(whole).max(), dtype=np.float32)


@cache
def sentences() -> tuple[Samples, ...]:
    """Everything that is longer than a word or two, in the order of the file names."""
    _require()
    least = SHORTEST_SENTENCE * SAMPLE_RATE / SAMPLES_A_BYTE
    files = sorted(path for path in FOLDER.rglob("*.g722") if path.stat().st_size > least)
    encoded = [path.read_bytes() for path in files if path.parent.name != "silence"]
    # All in one go: to start a decoder for each takes longer than to decode them.
    whole = _decoded(b"".join(encoded))
    ends = np.cumsum([SAMPLES_A_BYTE * len(each) for each in encoded])
    return tuple(np.split(whole, ends[:-1]))


def number_grammar(folder: Path) -> CallGrammar:
    """A grammar of ``NUMBERS`` and nothing else.

    Args:
        folder: Where its file may be written.
    """
    rules = " | ".join(NUMBERS)
    text = f"#JSGF V1.0 UTF-8 en;\ngrammar numbers;\npublic <number> = {rules};\n"
    (folder / "numbers.gram").write_text(text, encoding="utf-8")
    return CallGrammar(read_rules(folder, "numbers", "number"))


def _read(path: Path) -> Samples:
    _require()
    return _decoded(path.read_bytes())


def _decoded(data: bytes) -> Samples:
    decoded = ffmpeg("-f", "g722", "-i", "-", "-f", "f32le", "-ac", "1", "-", sound=data)
    return np.frombuffer(decoded, dtype=np.float32).copy()


def _require() -> None:
    if not FOLDER.is_dir():
        raise AssertionError(f"Install the human voice with: apt-get install {PACKAGE}.")
