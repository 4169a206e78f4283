"""What is done to parts and said of them, in words that calls have and in words that they have not.

A search held to the grammar takes a word that it has not for one that it has. What must never come
of that is a record: of such a sentence a question or "say again" is right.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Literal

from companion.intent.decision import decide_utterance
from companion.intent.interpret import understand
from companion.intent.outcome import Listening
from tests.sounds import Samples, mix, with_pauses
from tools.hearing.callers import USUAL, Voices
from tools.hearing.cores import every_core
from tools.hearing.manifest import PACES
from tools.hearing.measure import ears_of
from tools.hearing.recordings import Recording, stretch
from tools.hearing.tables import table

DONE = """
    greased; oiled; lubricated; tightened; loosened; replaced; cleaned; adjusted; sharpened;
    checked; removed; installed; soaked; repaired; freed; torqued; inflated; opened; closed;
    disconnected; hooked up; connected; reconnected; shut; locked; unlocked; released; slackened;
    unhooked; unplugged; plugged in; detached; attached; fitted; fastened; unfastened; unscrewed;
    drained; filled; deflated; raised; lowered; engaged; disengaged; switched off; blocked;
    unblocked; secured; undid; emptied; inspected"""
IS = """
    loose; tight; broken; worn; missing; cracked; dirty; clean; leaking; bent; seized; dull; sharp;
    rusted; flat; low; full; stuck; free; open; closed; on; off; in; out; disconnected; connected;
    frayed; stripped; clogged; clear; hot; cold; wet; dry; empty; installed; removed; safe;
    unsafe"""
PARTS = """
    spark plug wire; handle bolt; drive belt; fuel valve; air filter; blade; left wheel; muffler;
    guard; brake cable; fuel line; battery; recoil starter"""
"""Words of a shop (common practice); what calls have of them, typing it tells."""

TWICE = 2
"""Parts that each word is said of."""
HELD = Listening()
"""A key is held."""
LEVELS = (10.0, 5.0)
"""dB by which speech is over a recording; every third sentence is clean."""

Kind = Literal["a call", "asked about when typed", "no call"]
KINDS: tuple[Kind, ...] = ("a call", "asked about when typed", "no call")
BECAME = ("recorded right", "asked", "say again", "ignored", "recorded wrong")


@dataclass(frozen=True, slots=True)
class Said:
    """A sentence, and how it is said.

    Attributes:
        text: What is said.
        voice: By whom.
        pace: 1 is the voice's own.
        number: Of the sentence: the seed of its noise.
    """

    text: str
    voice: str
    pace: float
    number: int


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of one.

    Attributes:
        said: The sentence.
        kind: What it is when typed.
        became: One of ``BECAME``.
        taken: What it was taken for.
    """

    said: Said
    kind: Kind
    became: str
    taken: str


def sentences(voices: Sequence[str], every: int = 1) -> tuple[Said, ...]:
    """List what is said: each word of some parts, by each voice.

    Args:
        voices: By whom.
        every: Keep only every so many.
    """
    draw = random.Random(11)
    parts = _listed(PARTS)
    texts = [f"{word} {part}" for word in _listed(DONE) for part in draw.sample(parts, TWICE)]
    texts += [f"{part} {word}" for word in _listed(IS) for part in draw.sample(parts, TWICE)]
    said = [(text, voice) for text in texts for voice in voices]
    return tuple(
        Said(text, voice, PACES[number % len(PACES)], number)
        for number, (text, voice) in enumerate(said)
    )[::every]


def _listed(text: str) -> tuple[str, ...]:
    return tuple(each.strip() for each in text.split(";"))


def hear_all(
    said: Sequence[Said],
    recognizer: str,
    recordings: Sequence[Recording],
    voices: Voices = USUAL,
) -> Iterator[Taken]:
    """Hear many, a process a core, in their order.

    Args:
        said: The sentences.
        recognizer: By name.
        recordings: Noises; without any, all is clean.
        voices: By whom.
    """
    one = partial(hear, recognizer=recognizer, recordings=recordings, voices=voices)
    with every_core() as pool:
        yield from pool.map(one, said, chunksize=16)


def hear(said: Said, recognizer: str, recordings: Sequence[Recording], voices: Voices) -> Taken:
    """Hear one, a key being held.

    Args:
        said: The sentence.
        recognizer: By name.
        recordings: Noises; without any it is clean.
        voices: By whom.
    """
    ears, grammar = ears_of(recognizer)
    typed = understand(said.text, grammar, HELD)
    kind: Kind = "no call"
    if typed.outcome in ("record", "ask"):
        kind = "a call" if typed.outcome == "record" else "asked about when typed"
    heard = ears.recognize(_sound_of(said, recordings, voices))
    decision = decide_utterance(heard, grammar, HELD)
    became = {"ask": "asked", "say-again": "say again", "ignore": "ignored"}.get(decision.outcome)
    if became is None:
        meant = kind == "a call" and decision.intents[:1] == typed.intents[:1]
        became = "recorded right" if meant else "recorded wrong"
    return Taken(said, kind, became, decision.text)


def _sound_of(said: Said, recordings: Sequence[Recording], voices: Voices) -> Samples:
    speech = with_pauses(voices.say(said.text, said.voice, said.pace, 1.0))
    noisy = said.number % (len(LEVELS) + 1)
    if not recordings or noisy == len(LEVELS):
        return speech
    noise = recordings[said.number % len(recordings)]
    return mix(speech, stretch(noise, len(speech), said.number), LEVELS[noisy])


def text_of(taken: Sequence[Taken]) -> str:
    """The table, and every wrong record."""
    rows = []
    for kind in KINDS:
        counts = Counter(one.became for one in taken if one.kind == kind)
        of = max(1, counts.total())
        shares = (f"{counts[each]} ({100 * counts[each] / of:.1f} %)" for each in BECAME)
        rows.append((kind, str(counts.total()), *shares))
    wrong = [
        (one.said.text, one.taken, one.said.voice)
        for one in taken
        if one.became == "recorded wrong"
    ]
    parts = [table(("said of a part", "sentences", *BECAME), rows)]
    if wrong:
        parts.append(table(("said", "recorded", "voice"), wrong))
    return "\n\n".join(parts)
