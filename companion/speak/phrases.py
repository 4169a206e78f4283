"""The sentences a reply is made of: where each stands in it, and what each alone would sound."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from companion.speak.speakable import sentence

Tone = Literal["recorded", "question", "not-understood", "ring", "warning", "none"]

WEIGHT: tuple[Tone, ...] = (
    "none",
    "not-understood",
    "recorded",
    "question",
    "ring",
    "warning",
)
"""Order of the tones: where a call brought several, the last of these is sounded."""

WARNING, RINGING, FACT, CONSEQUENCE, CAUTION, ANSWER, LEFT, QUESTION = range(8)
"""The order in which a reply says things: danger first, and last the question to be answered.
``LEFT`` are cautions that a call came before: it is answered first."""


@dataclass(frozen=True, slots=True)
class Phrase:
    """A sentence of a reply.

    Attributes:
        place: Where in the reply, one of ``WARNING`` to ``QUESTION``.
        tone: What it alone would sound.
        text: Speakable, with its full stop.
    """

    place: int
    tone: Tone
    text: str


def recorded(text: str, place: int = FACT) -> Phrase:
    """Something that is on disk now."""
    return Phrase(place, "recorded", sentence(text))


def told(text: str) -> Phrase:
    """Something that was asked for and changes nothing."""
    return Phrase(ANSWER, "none", text)


def caution(text: str) -> Phrase:
    """A caution, always with that word before it."""
    return Phrase(CAUTION, "none", f"Caution. {sentence(text)}")


VERDICTS = {"in": "In.", "low": "Low.", "high": "High.", "unknown": "No figure on the sheet."}
"""A reading against the spec sheet, without by how much."""
