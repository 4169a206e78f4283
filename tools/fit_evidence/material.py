"""What is heard to fit on: calls, talk and noise, by the synthetic voices that may be tuned on and
by some of the people that the networks were not fitted on.

People say no calls. Their sentences are heard with grammars of their own, in which a word is open
or all words are, and count as calls of these; with the grammar of calls they are talk.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Literal

import numpy as np

from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import load_grammar
from tests.noises import in_a_shop
from tests.sounds import NOISES, Samples, mix, speak, with_pauses
from tools.fit_encoder.computed_noises import computed_noise
from tools.fit_encoder.noises import PACKAGES, read_noise, shared_out, sounds_of
from tools.hearing import open_slots, word_strings
from tools.hearing.manifest import CLEAN, in_noise
from tools.hearing.material import CALLS, FITTED_NOISES, TALK, TUNING_VOICES
from tools.hearing.number_calls import LOUDEST, SOFTEST, with_number
from tools.hearing.people import Sentence, sentences, sound_of
from tools.hearing.speakers import for_belief
from tools.hearing.surroundings import Tone, in_a_room, toned

Kind = Literal["call", "talk", "noise", "person", "person's words", "person's talk"]
COMPUTED_CONDITIONS = (
    (CLEAN, 0.0),
    ("engine", 20.0),
    ("engine", 10.0),
    ("engine", 5.0),
    ("pink", 8.0),
    ("clanks", 8.0),
)
"""Noise, and dB of speech over it."""
RECORDED_LEVELS = (15.0, 7.0)
"""The same of a call over a recording that the networks were fitted on."""
PEOPLE_LEVELS = (None, 20.0, 10.0, 5.0)
"""The same of a person."""
AWAY = 0.25
"""Share of what people say that is heard in a bare room."""
NUMBER_CALLS = 4_000
"""Calls with a number, drawn as ``tools/hearing/number_calls.py`` draws those that it measures by,
with other numbers, voices, rooms, noises and microphones."""
NUMBERS_AWAY = 0.5
FITTED_ROOMS = 1_000
"""Number of the first room for these."""
NOISES_ALONE = 150
"""Of each source of noise, besides the computed ones of the tests."""
SECONDS_ALONE = 2.5


@dataclass(frozen=True)
class Sound:
    """What is heard.

    Attributes:
        kind: What it is.
        said: The words; empty where nobody speaks.
        held_to: What may be said besides the calls, in JSGF; None for the calls.
        voice: Who speaks: a synthetic voice, or empty.
        sentence: What a person says, if one speaks a whole sentence.
        words: The sound of what a person says, if it was put together from words of theirs; with
            pauses around it.
        noise: A noise of the tests by its name, or "recorded", or "computed".
        level: dB of speech over the noise.
        seed: Of all that is drawn.
        away: Whether two meters from the microphone, in a room.
        tone: Of the microphone; None for a plain one.
    """

    kind: Kind
    said: str
    held_to: str | None = None
    voice: str = ""
    sentence: Sentence | None = None
    words: Samples | None = None
    noise: str = CLEAN
    level: float = 0.0
    seed: int = 0
    away: bool = False
    tone: Tone | None = None

    def samples(self, people: Path, recordings: Sequence[Path]) -> Samples:
        """Make the sound: shape (n,), 16 kHz."""
        if self.kind == "noise":
            return _noise(self.noise, round(SECONDS_ALONE * SAMPLE_RATE), self.seed, recordings)
        if self.voice:
            speech = with_pauses(speak(self.said, self.voice))
        elif self.words is not None:
            speech = self.words
        else:
            assert self.sentence is not None, "somebody speaks"
            speech = sound_of(self.sentence, people)
        if not self.voice and random.Random(self.seed).random() < AWAY:
            speech = in_a_shop(speech, seed=self.seed)
        if self.away:
            speech = in_a_room(speech, self.seed, FITTED_ROOMS)
        if self.noise == "recorded":
            noise = _noise(self.noise, len(speech), self.seed, recordings)
            heard = mix(speech, noise, self.level)
        else:
            heard = in_noise(speech, self.noise, self.level, self.seed)
        return heard if self.tone is None else toned(heard, self.tone)


def recordings_to_fit(roots: Sequence[Path]) -> tuple[Path, ...]:
    """The recordings of Debian's packages that the networks were fitted on.

    Raises:
        CompanionError: If a package is in none of the roots.
    """
    fit, _ = shared_out({package: sounds_of(package, roots) for package in PACKAGES})
    return tuple(path for path in fit if read_noise(path) is not None)


def sounds(people: Path, every: int = 1) -> list[Sound]:
    """List what is heard; of everything only every so many.

    Args:
        people: People's speech, as ``tools/hearing/people.py`` has it.
        every: How many.
    """
    found = [*_of_voices(), *_of_people(people), *_alone(), *_with_numbers()]
    return found[::every]


def _of_voices() -> Iterator[Sound]:
    for number, voice in enumerate(TUNING_VOICES):
        for place, said in enumerate(CALLS):
            seed = 10_000 + place * 7 + number
            for noise, level in COMPUTED_CONDITIONS:
                yield Sound("call", said, voice=voice, noise=noise, level=level, seed=seed)
            for level in RECORDED_LEVELS:
                own = seed + int(level)
                yield Sound("call", said, voice=voice, noise="recorded", level=level, seed=own)
        for place, line in enumerate(TALK):
            seed = 20_000 + place * 7 + number
            for noise, level in ((CLEAN, 0.0), ("engine", 12.0), ("recorded", 12.0)):
                yield Sound("talk", line, voice=voice, noise=noise, level=level, seed=seed)


def _of_people(people: Path) -> Iterator[Sound]:
    everything = sentences(people)
    chosen = for_belief(everything)
    words = {word for each in everything for word in each.text.split()}
    by_text = {(each.speaker, each.text): each for each in chosen}
    whole = [*open_slots.tasks(chosen, people, words), *word_strings.phrases(chosen, people)]
    put_together = [*word_strings.strings(chosen, people)]
    for number, task in enumerate([*whole, *put_together]):
        sentence = by_text[task.speaker, task.said] if number < len(whole) else None
        for place, level in enumerate(PEOPLE_LEVELS):
            yield Sound(
                "person" if sentence else "person's words",
                task.said,
                task.expansion,
                sentence=sentence,
                words=None if sentence else task.sound,
                noise=CLEAN if level is None else "recorded",
                level=level or 0.0,
                seed=30_000 + 11 * number + place,
            )
    for number, sentence in enumerate(chosen):
        for noise, level in ((CLEAN, 0.0), ("recorded", 10.0)):
            seed = 60_000 + 11 * number
            yield Sound(
                "person's talk",
                sentence.text,
                sentence=sentence,
                noise=noise,
                level=level,
                seed=seed,
            )


def _alone() -> Iterator[Sound]:
    for noise in sorted(FITTED_NOISES):
        for seed in range(100, 125):
            yield Sound("noise", "", noise=noise, seed=seed)
    for noise in ("recorded", "computed"):
        for seed in range(NOISES_ALONE):
            yield Sound("noise", "", noise=noise, seed=seed)


def _with_numbers() -> Iterator[Sound]:
    """Calls with all kinds of numbers, half of them from two meters away, by all microphones."""
    grammar = load_grammar()
    for number in range(NUMBER_CALLS):
        draw = random.Random(f"with numbers {number}")
        _, said = with_number(draw, grammar)
        noise = draw.choice((CLEAN, *sorted(FITTED_NOISES), "recorded", "recorded", "recorded"))
        yield Sound(
            "call",
            said,
            voice=draw.choice(TUNING_VOICES),
            noise=noise,
            level=draw.uniform(LOUDEST, SOFTEST),
            seed=draw.randrange(10**6),
            away=draw.random() < NUMBERS_AWAY,
            tone=_some_microphone(draw),
        )


def _some_microphone(draw: random.Random) -> Tone:
    """From a telephone's to a studio's."""
    low, high = draw.uniform(50, 400), draw.uniform(3000, 8000)
    return (
        (0, -60),
        (low / 2, -20),
        (low, -3),
        (1000, 0),
        (high, draw.uniform(-6, 6)),
        (min(8000, high * 1.2), -50 if high < 6500 else -12),
    )


def _noise(name: str, count: int, seed: int, recordings: Sequence[Path]) -> Samples:
    draw = random.Random(seed)
    if name == "recorded":
        stretch = np.zeros(count, dtype=np.float32)
        while not stretch.any():  # a stretch of silence is no noise
            noise = _read(draw.choice(recordings))
            stretch = np.resize(np.roll(noise, -draw.randrange(len(noise))), count)
        return stretch
    if name == "computed":
        noise = computed_noise(count, draw, np.random.default_rng(seed))[:count]
    else:
        noise = NOISES[name](count / SAMPLE_RATE, seed=seed)
    return np.asarray(noise / max(1e-6, float(np.abs(noise).max())) * 0.5, dtype=np.float32)


@lru_cache(maxsize=80)
def _read(path: Path) -> Samples:
    noise = read_noise(path)
    assert noise is not None, "recordings_to_fit gives only what can be read"
    return np.asarray(noise * 0.7, dtype=np.float32)
