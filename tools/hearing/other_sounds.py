"""Talk, noise, and a human voice: what the companion makes of what is not a scripted call."""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path

from companion.intent.decision import decide_utterance
from companion.intent.outcome import Listening
from companion.recognize.choose import choose
from tests.noises import NOISES
from tests.sounds import Samples, speak, with_pauses
from tools.hearing import human
from tools.hearing.cores import every_core
from tools.hearing.manifest import in_noise
from tools.hearing.material import TALK
from tools.hearing.measure import ears_of

MODES: Mapping[str, Listening] = {
    "key held": Listening(),
    "open microphone": Listening(call_sign_needed=True),
}
SOURCES = ("talk", "human talk", "noise")
EVERY_SENTENCE = 4
"""Of the human sentences, every so many is heard."""


def no_calls(voices: Sequence[str], recognizer: str) -> dict[tuple[str, str], Counter[str]]:
    """What becomes of sounds that hold no call: outcomes by source and mode."""
    jobs = [(source, number) for source in SOURCES for number in range(_count(source, voices))]
    found: dict[tuple[str, str], Counter[str]] = {}
    with every_core() as pool:
        decide = partial(_decide, voices=tuple(voices), recognizer=recognizer)
        for (source, _), outcomes in zip(jobs, pool.map(decide, jobs, chunksize=8), strict=True):
            for mode, outcome in outcomes.items():
                found.setdefault((source, mode), Counter())[outcome] += 1
    return found


def _count(source: str, voices: Sequence[str]) -> int:
    if source == "talk":
        return len(TALK) * len(voices)
    if source == "human talk":
        return len(human.sentences()[::EVERY_SENTENCE])
    return 4 * len(NOISES)


def _sound(source: str, number: int, voices: Sequence[str]) -> Samples:
    if source == "talk":
        return with_pauses(speak(TALK[number % len(TALK)], voices[number // len(TALK)]))
    if source == "human talk":
        return human.sentences()[::EVERY_SENTENCE][number]
    name = sorted(NOISES)[number // 4]
    return NOISES[name](2.5, seed=number % 4)


def _decide(job: tuple[str, int], voices: Sequence[str], recognizer: str) -> dict[str, str]:
    ears, grammar = ears_of(recognizer)
    sound = _sound(*job, voices)
    return {
        mode: decide_utterance(
            ears.recognize(sound, call_sign_needed=listening.call_sign_needed), grammar, listening
        ).outcome
        for mode, listening in MODES.items()
    }


def numbers_heard(
    voices: Sequence[str], recognizer: str, conditions: Sequence[tuple[str, float]]
) -> dict[tuple[str, float], dict[str, float]]:
    """Share of numbers heard right at first, held to them alone: by condition, then by voice.

    The first voice is the human one, the others say the same numbers.
    """
    everyone = ("human", *voices)
    jobs = [(voice, condition) for condition in conditions for voice in everyone]
    with every_core() as pool:
        shares = pool.map(partial(_share_right, recognizer=recognizer), jobs)
        found: dict[tuple[str, float], dict[str, float]] = {}
        for (voice, condition), share in zip(jobs, shares, strict=True):
            found.setdefault(condition, {})[voice] = share
    return found


def _share_right(job: tuple[str, tuple[str, float]], recognizer: str) -> float:
    voice, (noise, level) = job
    ears = choose(recognizer)
    with tempfile.TemporaryDirectory() as folder:
        ears.listen_for(human.number_grammar(Path(folder)))
    right = 0
    for seed, number in enumerate(human.NUMBERS):
        speech = human.said(number) if voice == "human" else speak(number, voice)
        recognition = ears.recognize(in_noise(with_pauses(speech), noise, level, seed))
        right += [each.text for each in recognition.hypotheses[:1]] == [number]
    return right / len(human.NUMBERS)
