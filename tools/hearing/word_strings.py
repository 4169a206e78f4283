"""Strings of any length out of a closed list of words: what comes nearest to digit strings where
nobody says digits.

- **phrases**: whole sentences of people, as they were said, heard with a grammar of their own words
  and some others of the same speaker, in any order and number.
- **strings**: words cut out of a speaker's sentences and put one after the other. Cut words are
  shorter than words said singly, and carry what was before and after them: they are harder to hear
  than digits.
"""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cache, partial
from pathlib import Path

import numpy as np

from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.pronounce import pronunciations
from companion.recognize.held import HeldRecognizer
from tests.sounds import Samples, mix, pause, pink_noise, with_pauses
from tools.hearing.alignment import words_in
from tools.hearing.closed import Task
from tools.hearing.cores import every_core
from tools.hearing.people import Sentence, sound_of

LIST = 11
"""Words of a closed list: as many as there are digits, with "oh"."""
LIKE_DIGITS = (("one", "won"), ("two", "to", "too"), ("four", "for"), ("eight", "ate"))
"""Words that sound as digits do: of each row one stands in a speaker's list, where it was said."""
PHRASE = (3, 8)
"""Words of a phrase, at least and at most."""
STRING = (2, 5)
STRINGS_EACH = 20
"""Of a speaker."""
WORD_SECONDS = (0.24, 0.75)
"""Of a word that is cut out: what is shorter was swallowed, what is longer was cut amiss."""
WORD_PHONEMES = (3, 6)
"""Of a word that is cut out, unless it sounds like a digit: shorter ones are swallowed in sentences
as no digit is that is called out."""
BETWEEN = (0.04, 0.2)
"""Seconds of silence between two words."""
ROOM_TONE = 40.0
"""dB by which words are over the hiss that goes on between them: digital silence after a word that
was cut out is heard as a sound of its own."""
_FADE = SAMPLE_RATE // 200

Words = Mapping[str, Sequence[Samples]]
"""Each word of a speaker, as often as it was cut out."""


def any_string_of(words: Iterable[str]) -> str:
    """What may be said, in JSGF: these words, in any order and number."""
    return f"({' | '.join(sorted(words))})+"


# --- phrases -------------------------------------------------------------------------------------
def phrases(chosen: Sequence[Sentence], folder: Path) -> Iterator[Task]:
    """Whole sentences of ``PHRASE`` words, none of which sounds like another of them."""
    said_by: dict[str, set[str]] = defaultdict(set)
    for sentence in chosen:
        said_by[sentence.speaker].update(sentence.text.split())
    for number, sentence in enumerate(chosen):
        words = sentence.text.split()
        if not PHRASE[0] <= len(words) <= PHRASE[1] or not all(map(pronunciations, words)):
            continue
        if len(_apart(dict.fromkeys(words))) < len(set(words)):
            continue
        draw = random.Random(f"{sentence.speaker} {sentence.text}")
        rest = sorted(said_by[sentence.speaker] - set(words))
        draw.shuffle(rest)
        listed = _apart([*dict.fromkeys(words), *filter(pronunciations, rest)])[:LIST]
        yield Task(
            sentence.speaker,
            sentence.text,
            any_string_of(listed),
            sound_of(sentence, folder),
            number,
        )


# --- strings -------------------------------------------------------------------------------------
def strings(chosen: Sequence[Sentence], folder: Path) -> Iterator[Task]:
    """``STRINGS_EACH`` strings of each speaker who says enough words that can be cut out."""
    for speaker, words in cut_words(chosen, folder).items():
        draw = random.Random(speaker)
        listed = closed_list(words, draw)
        if len(listed) < LIST:
            continue
        for _ in range(STRINGS_EACH):
            said = [draw.choice(listed) for _ in range(draw.randint(*STRING))]
            yield Task(
                speaker,
                " ".join(said),
                any_string_of(listed),
                joined([draw.choice(words[word]) for word in said], draw),
                draw.randrange(10**6),
            )


def cut_words(chosen: Sequence[Sentence], folder: Path) -> dict[str, dict[str, list[Samples]]]:
    """Cut every fitting word out of sentences, on every core: by speaker, then by word."""
    found: dict[str, dict[str, list[Samples]]] = {}
    with every_core() as pool:
        cut = pool.map(partial(_cut, folder=folder), chosen, chunksize=8)
        for sentence, words in zip(chosen, cut, strict=True):
            of_speaker = found.setdefault(sentence.speaker, {})
            for word, sound in words:
                of_speaker.setdefault(word, []).append(sound)
    return found


def closed_list(words: Words, draw: random.Random) -> list[str]:
    """Choose the words of a speaker's list: what sounds like digits first, then by chance; no two
    that sound the same."""
    like_digits = [next((one for one in row if one in words), None) for row in LIKE_DIGITS]
    rest = sorted(words)
    draw.shuffle(rest)
    return sorted(_apart([*filter(None, like_digits), *rest])[:LIST])


def joined(parts: Sequence[Samples], draw: random.Random) -> Samples:
    """Words one after the other, with short pauses between them and longer ones around them, over
    the hiss of a quiet room."""
    ramp = np.linspace(0, 1, _FADE, dtype=np.float32)
    pieces: list[Samples] = []
    for part in parts:
        faded = part.copy()
        faded[:_FADE] *= ramp
        faded[-_FADE:] *= ramp[::-1]
        pieces += [faded, pause(draw.uniform(*BETWEEN))]
    whole = with_pauses(np.concatenate(pieces[:-1]))
    return mix(whole, pink_noise(len(whole) / SAMPLE_RATE, seed=draw.randrange(10**6)), ROOM_TONE)


def _cut(sentence: Sentence, folder: Path) -> list[tuple[str, Samples]]:
    sound, words = sound_of(sentence, folder), sentence.text.split()
    return [
        (word, sound[begin:end])
        for word, (begin, end) in zip(words, words_in(_ears(), sound, words), strict=False)
        if WORD_SECONDS[0] <= (end - begin) / SAMPLE_RATE <= WORD_SECONDS[1]
        and (
            WORD_PHONEMES[0] <= len(pronunciations(word)[0]) <= WORD_PHONEMES[1]
            or any(word in row for row in LIKE_DIGITS)
        )
    ]


@cache
def _ears() -> HeldRecognizer:
    return HeldRecognizer()


def _apart(words: Iterable[str]) -> list[str]:
    """Words without those that sound like one before them."""
    kept: list[str] = []
    sounds: set[tuple[str, ...]] = set()
    for word in words:
        ways = set(pronunciations(word))
        if not ways & sounds:
            kept.append(word)
            sounds |= ways
    return kept
