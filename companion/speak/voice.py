"""Replies sounded: a tone, then speech, on the loudspeaker; where there is none, in silence.

A voice never raises because it cannot sound a reply. The reply stands on the screen and in the log
in any case, so a lost loudspeaker is told once, in ``trouble``, and the job goes on.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from companion.audio.devices import SoundUnavailable
from companion.audio.player import Player
from companion.files.sound_format import SAMPLE_RATE
from companion.speak.engines import CannotRender, VoiceUnavailable
from companion.speak.speech import SpeechEngine
from companion.speak.tones import tone
from companion.speak.wording import Reply

AFTER_TONE = 0.06
"""Pause between tone and speech, in seconds."""


class Voice(Protocol):
    """Whatever replies are given to."""

    @property
    def trouble(self) -> str | None:
        """Why replies are not heard, in one plain sentence; None while they are."""
        ...

    def say(self, reply: Reply) -> None:
        """Sound a reply and wait until it has ended, or is cut short; raises nothing."""
        ...

    def hush(self) -> None:
        """Cut short what is being said; may be called from another thread."""
        ...

    def render(self, text: str) -> NDArray[np.float32]:
        """Return a text as sound, shape (n,), mono, 16 kHz.

        Raises:
            VoiceUnavailable: If there is no speech engine, or it fails.
        """
        ...


class VoiceSettings(Protocol):
    """What a shop may set about the voice."""

    @property
    def speech_voice(self) -> str | None:
        """Part of the name of a voice, or None."""
        ...

    @property
    def speech_rate(self) -> int:
        """Words per minute."""
        ...

    @property
    def speaker(self) -> int | str | None:
        """Output device, or None."""
        ...


class SilentVoice:
    """Sounds nothing, because there is no loudspeaker or quiet was asked for; renders if it can.

    Args:
        engine: The speech engine, or the trouble with it.
        trouble: Why nothing is heard; None if nothing should be.
    """

    def __init__(self, engine: SpeechEngine | VoiceUnavailable, trouble: str | None = None) -> None:
        self._engine = engine
        self.trouble = trouble

    def say(self, reply: Reply) -> None:
        """Do nothing: the reply stands on the screen."""

    def hush(self) -> None:
        """Do nothing."""

    def render(self, text: str) -> NDArray[np.float32]:
        """Return a text as sound; see ``Voice``."""
        if isinstance(self._engine, VoiceUnavailable):
            raise self._engine
        return self._engine.render(text)


class SpokenVoice:
    """Sounds replies on a loudspeaker; without a speech engine, their tones.

    Args:
        engine: The speech engine, or the trouble with it.
        player: The loudspeaker.
    """

    def __init__(self, engine: SpeechEngine | VoiceUnavailable, player: Player) -> None:
        self._engine = engine
        self._player = player
        self._hushed = threading.Event()
        self.trouble: str | None = str(engine) if isinstance(engine, VoiceUnavailable) else None

    def say(self, reply: Reply) -> None:
        """Sound a reply; see ``Voice``."""
        self._hushed.clear()
        try:
            self._sound(reply)
            self.trouble = None
        except (SoundUnavailable, VoiceUnavailable) as error:
            self.trouble = str(error)

    def hush(self) -> None:
        """Cut short what is being said; see ``Voice``."""
        self._hushed.set()
        self._player.stop()

    def render(self, text: str) -> NDArray[np.float32]:
        """Return a text as sound; see ``Voice``."""
        if isinstance(self._engine, VoiceUnavailable):
            raise self._engine
        return self._engine.render(text)

    def _sound(self, reply: Reply) -> None:
        try:
            speech = self.render(reply.text)
        except VoiceUnavailable as error:
            self._play(tone(reply.tone))
            if isinstance(error, CannotRender) and isinstance(self._engine, SpeechEngine):
                self._engine.speak(reply.text)
                return
            raise
        pause = int(AFTER_TONE * SAMPLE_RATE) if reply.tone != "none" else 0
        self._play(np.concatenate([tone(reply.tone), np.zeros(pause, dtype=np.float32), speech]))

    def _play(self, sound: NDArray[np.float32]) -> None:
        if not self._hushed.is_set():
            self._player.play(sound)


def open_voice(
    settings: VoiceSettings,
    *,
    quiet: bool = False,
    start_engine: Callable[[str | None, int], SpeechEngine] | None = None,
    open_player: Callable[[int | str | None], Player] | None = None,
) -> Voice:
    """Return the best voice there is: spoken, tones only, or silent.

    Args:
        settings: Which voice, pace and device.
        quiet: Sound nothing.
        start_engine: Starts the speech engine, by voice and pace; the usual way if left out.
        open_player: Opens the loudspeaker; the usual way if left out.
    """
    engine: SpeechEngine | VoiceUnavailable
    try:
        engine = (start_engine or SpeechEngine)(settings.speech_voice, settings.speech_rate)
    except VoiceUnavailable as error:
        engine = error
    if quiet:
        return SilentVoice(engine)
    try:
        return SpokenVoice(engine, (open_player or Player)(settings.speaker))
    except SoundUnavailable as error:
        return SilentVoice(engine, str(error))
