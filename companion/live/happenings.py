"""What can happen at the bench: values on the live loop's queue."""

from __future__ import annotations

from dataclasses import dataclass

from companion.audio.utterance import Interim, Utterance


@dataclass(frozen=True, slots=True)
class Key:
    """The push-to-talk key or pedal was pressed."""


@dataclass(frozen=True, slots=True)
class Line:
    """A call was typed; ``text`` None at the end of the input."""

    text: str | None


@dataclass(frozen=True, slots=True)
class Device:
    """A device failed, is back, or gives bad sound; with the sentence that says so and what to
    do."""

    sentence: str


Happening = Utterance | Interim | Key | Line | Device
