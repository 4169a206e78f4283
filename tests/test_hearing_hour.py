"""An hour of talk near an open microphone, not to the companion: nothing of it is recorded.

Four tenths of it are a human voice, the rest synthetic ones that read a text aloud; a machine runs
meanwhile for a third of the time. It goes through the same segmentation, recognition and decision
as at the bench.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import numpy as np

from companion.audio.endpointing import Segmenter
from companion.files.sound_format import SAMPLE_RATE
from companion.intent.decision import decide_utterance
from companion.intent.outcome import Listening
from tests.noises import NOISES
from tests.sounds import Samples, mix, pause, speak
from tools.hearing import human
from tools.hearing.material import TALK
from tools.hearing.measure import ears_of

HOUR = 3600
PART_SECONDS = 300
OPEN = Listening(call_sign_needed=True)
READ_ALOUD = Path("/usr/share/common-licenses/GPL-3")
"""A long English text that every Debian system has."""
READERS = ("rms", "us-man", "scotland", "awb", "gb", "us-woman", "slt")
NEAR_THE_CALL_SIGN = (
    "put it on the bench over there",
    "the bench is full of oil",
    "bent and worn as it is",
    "we went to the beach and had french toast",
    "bench grinder wants a new wheel",
    "they benched him after thirty minutes",
)
"""Talk that has the call sign, or nearly, in it."""


def test_an_hour_of_talk_without_the_call_sign_records_nothing() -> None:
    outcomes = sum(map(heard_in, range(HOUR // PART_SECONDS)), Counter[str]())
    assert outcomes["seconds"] >= HOUR
    assert outcomes["ignore"] > 400
    assert outcomes["record"] == 0
    # A question is heard by everybody in the shop: hardly ever.
    assert outcomes["ask"] + outcomes["say-again"] <= 3, outcomes


def heard_in(part: int) -> Counter[str]:
    """Outcomes of the utterances of one part, and its length in seconds."""
    (ears, grammar), segmenter = ears_of("whisper"), Segmenter()
    sound = talk(part)
    found: Counter[str] = Counter(seconds=len(sound) // SAMPLE_RATE)
    for utterance in (*segmenter.feed(sound), *segmenter.flush()):
        heard = ears.recognize(utterance.samples, call_sign_needed=True)
        found[decide_utterance(heard, grammar, OPEN).outcome] += 1
    return found


def talk(part: int) -> Samples:
    """Five minutes of talk with pauses, another for every part."""
    random = np.random.default_rng(part)
    pieces: list[Samples] = []
    seconds = 0.0
    for piece in _pieces(part, random):
        pieces += [piece, pause(random.uniform(0.7, 2.5))]
        seconds += (len(pieces[-2]) + len(pieces[-1])) / SAMPLE_RATE
        if seconds >= PART_SECONDS:
            break
    whole = np.concatenate(pieces)
    if part % 3 == 0:
        running = NOISES[("engine", "compressor", "radio", "grinder")[part // 3]](20.0, seed=part)
        return mix(whole, running, 12.0)
    return whole


def _pieces(part: int, random: np.random.Generator) -> Iterator[Samples]:
    spoken = human.sentences()
    if part < 5:
        begin = part * len(spoken) // 5
        yield from (spoken[(begin + place) % len(spoken)] for place in range(len(spoken)))
        return
    lines = _lines()
    while True:
        text = random.choice((*lines, *TALK, *NEAR_THE_CALL_SIGN * 2))
        yield speak(str(text), READERS[int(random.integers(len(READERS)))])


@cache
def _lines() -> tuple[str, ...]:
    assert READ_ALOUD.is_file(), "Install it with: apt-get install base-files."
    words = " ".join(READ_ALOUD.read_text(encoding="utf-8").split()).replace('"', "").split()
    return tuple(" ".join(words[place : place + 12]) for place in range(0, len(words), 12))
