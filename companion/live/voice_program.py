"""The voice in a program of its own; see ``voice_beside.py``, which starts it."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from companion.audio.player import Player
from companion.files.sound_format import SAMPLE_RATE
from companion.live.beside import serve
from companion.speak.engines import VoiceUnavailable
from companion.speak.speakable import speakable
from companion.speak.speech import RENDER_SECONDS, SLOWEST, SpeechEngine
from companion.speak.voice import Voice, open_voice
from companion.speak.wording import Reply

Tell = Callable[[object], None]


@dataclass(frozen=True, slots=True)
class Manner:
    """Which voice, pace and loudspeaker; see ``VoiceSettings``.

    Attributes:
        telling: Whether what sounds is to be told, with ``Began``, ``Unknown`` and ``Over``.
    """

    speech_voice: str | None
    speech_rate: int
    speaker: int | str | None
    telling: bool = False


@dataclass(frozen=True, slots=True)
class Hush:
    """Cut short what is being said."""


@dataclass(frozen=True, slots=True)
class Render:
    """Render a text."""

    text: str


@dataclass(frozen=True, slots=True)
class Sounds:
    """How long the sound takes that begins now.

    Attributes:
        seconds: How long, in seconds.
    """

    seconds: float


@dataclass(frozen=True, slots=True)
class Began:
    """What sounds from now on; see ``OwnSound.began``.

    Attributes:
        samples: Shape (n,), as numbers of 16 bits.
        rate: Of the samples, in Hz.
        at: When it began, in seconds of ``time.monotonic``.
    """

    samples: NDArray[np.int16]
    rate: int
    at: float


@dataclass(frozen=True, slots=True)
class Unknown:
    """What sounds from now on is known to the engine alone."""


@dataclass(frozen=True, slots=True)
class Over:
    """It sounds no more.

    Attributes:
        at: Since when, in seconds of ``time.monotonic``.
    """

    at: float


@dataclass(frozen=True, slots=True)
class Done:
    """A message is done with.

    Attributes:
        trouble: Why it is not heard, or None.
        sound: What was rendered, or None.
    """

    trouble: str | None
    sound: NDArray[np.float32] | None = None


class Speaking:
    """Answers messages with the voice that the first of them names."""

    def __init__(self) -> None:
        self._voice: Voice | None = None
        self._tell: Tell = lambda message: None
        self._telling = False

    def answer(self, message: Any, tell: Tell) -> None:
        """Answer one message."""
        self._tell = tell
        match message:
            case Manner():
                self._telling = message.telling
                self._voice = open_voice(message, start_engine=self._engine, open_player=self._open)
            case Reply() if self._voice is not None:
                self._voice.say(message)
            case Render(text=text) if self._voice is not None:
                try:
                    tell(Done(None, self._voice.render(text)))
                except VoiceUnavailable as error:
                    tell(Done(str(error)))
                return
        tell(Done(None if self._voice is None else self._voice.trouble))

    def hush(self) -> None:
        """Cut short what is being said, from another thread."""
        if self._voice is not None:
            self._voice.hush()

    def sounds(self, seconds: float) -> None:
        """Tell how long what follows may take."""
        self._tell(Sounds(seconds))

    def of_sound(self, message: Began | Unknown | Over) -> None:
        """Tell what sounds, where that is wanted."""
        if self._telling:
            self._tell(message)

    def _engine(self, voice: str | None, words_per_minute: int) -> SpeechEngine:
        return _Engine(self, voice, words_per_minute)

    def _open(self, device: int | str | None) -> Player:
        return _Loudspeaker(self, device)


class _Loudspeaker(Player):
    """Tells how long a sound is before it plays it."""

    def __init__(self, speaking: Speaking, device: int | str | None) -> None:
        super().__init__(device)
        self._speaking = speaking

    def play(self, samples: NDArray[np.float32], rate: int = SAMPLE_RATE) -> bool:
        self._speaking.sounds(len(samples) / rate)
        return super().play(samples, rate)

    def began(self, sound: NDArray[np.float32], at: float) -> None:
        whole = (np.clip(sound, -1, 1) * 32767).astype(np.int16)
        self._speaking.of_sound(Began(whole, self.rate, at))

    def ended(self, at: float) -> None:
        self._speaking.of_sound(Over(at))


class _Engine(SpeechEngine):
    """Tells how long it may speak by its own output."""

    def __init__(self, speaking: Speaking, voice: str | None, words_per_minute: int) -> None:
        super().__init__(voice, words_per_minute)
        self._speaking = speaking

    def speak(self, text: str) -> None:
        self._speaking.sounds(RENDER_SECONDS + len(speakable(text).split()) / SLOWEST * 60)
        self._speaking.of_sound(Unknown())
        super().speak(text)
        self._speaking.of_sound(Over(time.monotonic()))


def main() -> None:
    """Serve the program that started this one."""
    # Imported by its real name: pickles name the module that a message's class comes from.
    from companion.live.voice_program import Hush as Named
    from companion.live.voice_program import Speaking as Answering

    speaking = Answering()
    serve(speaking.answer, at_once=lambda message: _hushed(message, Named, speaking.hush))


def _hushed(message: object, kind: type, hush: Callable[[], None]) -> bool:
    if not isinstance(message, kind):
        return False
    # Not in the thread that receives messages, which must never wait.
    threading.Thread(target=hush, name="hush", daemon=True).start()
    return True


if __name__ == "__main__":
    main()
