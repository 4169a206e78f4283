"""The speech engines themselves, each behind the same two calls."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from companion.audio.files import read_sound
from companion.audio.resample import resample
from companion.errors import CompanionError
from companion.installed import to_add

ESPEAK_VOICE = "en-gb-x-rp"
"""The clearest of espeak-ng's English voices, by how well a recognizer transcribed its replies
(``docs/measurements.md``)."""


class VoiceUnavailable(CompanionError):
    """There is no speech engine, or it does not work; the message says what to do."""


class CannotRender(VoiceUnavailable):
    """The engine speaks, but only through its own output."""


class Engine(Protocol):
    """One speech engine, loaded; used from the thread that made it only."""

    def render(self, words: str) -> NDArray[np.float32]:
        """Return words as sound, shape (n,), mono, -1 to 1, 16 kHz.

        Raises:
            CannotRender: If the engine has no way to do so.
        """
        ...

    def speak(self, words: str) -> None:
        """Say words through the engine's own output."""
        ...


def start_engine(voice: str | None, words_per_minute: int) -> Engine:
    """Start this system's engine.

    Args:
        voice: Part of the name of one of its voices; its usual one if None.
        words_per_minute: Pace.

    Raises:
        VoiceUnavailable: If there is none, or it has no such voice.
    """
    if sys.platform == "linux":
        return EspeakEngine(voice, words_per_minute)
    return InstalledEngine(voice, words_per_minute)


class EspeakEngine:
    """espeak-ng, the system's or a wheel's; see ``start_engine``."""

    def __init__(self, voice: str | None, words_per_minute: int) -> None:
        from companion.speak.espeak import EspeakFailed, EspeakMissing, load_espeak

        try:
            self._espeak = load_espeak()
        except EspeakMissing as error:
            raise VoiceUnavailable(
                f"There is no speech engine; install one with: {to_add('espeakng-loader')}"
            ) from error
        self._voice = voice or ESPEAK_VOICE
        self._pace = words_per_minute
        try:
            self._espeak.choose_voice(self._voice)
        except EspeakFailed as error:
            raise _no_such_voice(self._voice) from error

    def render(self, words: str) -> NDArray[np.float32]:
        """Return words as sound; see ``Engine``."""
        self._espeak.choose_voice(self._voice)
        return resample(self._espeak.render(words, self._pace), self._espeak.rate)

    def speak(self, words: str) -> None:
        """Never needed: this engine renders."""
        raise CannotRender("espeak-ng is played through the loudspeaker that is set.")


class InstalledEngine:
    """What Windows or macOS bring, by way of pyttsx3; see ``start_engine``."""

    def __init__(self, voice: str | None, words_per_minute: int) -> None:
        try:
            import pyttsx3

            self._engine: Any = pyttsx3.init()
        # A missing engine raises anything from ImportError to a COM error.
        except Exception as error:
            raise VoiceUnavailable(
                "There is no speech engine that pyttsx3 can use; "
                "add a voice in the system's settings."
            ) from error
        self._engine.setProperty("rate", words_per_minute)
        if voice is not None:
            self._engine.setProperty("voice", self._identifier(voice))

    def render(self, words: str) -> NDArray[np.float32]:
        """Return words as sound; see ``Engine``."""
        with tempfile.TemporaryDirectory() as folder:
            file = Path(folder) / "speech.wav"
            self._engine.save_to_file(words, str(file))
            self._engine.runAndWait()
            if not file.exists() or not file.stat().st_size:
                raise CannotRender("The speech engine of this system cannot render to a file.")
            return read_sound(file)

    def speak(self, words: str) -> None:
        """Say words through the engine's own output; see ``Engine``."""
        self._engine.say(words)
        self._engine.runAndWait()

    def _identifier(self, wanted: str) -> str:
        for voice in self._engine.getProperty("voices"):
            if wanted.lower() in f"{voice.id} {voice.name}".lower():
                return str(voice.id)
        raise _no_such_voice(wanted)


def _no_such_voice(wanted: str) -> VoiceUnavailable:
    return VoiceUnavailable(
        f"The speech engine has no voice {wanted!r}; mend or remove 'speech_voice' in the settings."
    )
