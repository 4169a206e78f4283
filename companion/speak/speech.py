"""Text to sound with the platform's speech engine, by way of pyttsx3.

Everything the engine does happens in one thread of its own: some engines must be used from the
thread that made them, and any of them may hang. Whoever asks waits for a bounded time only.
"""

from __future__ import annotations

import queue
import re
import sys
import tempfile
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from companion.audio.files import read_sound
from companion.audio.utterance import SAMPLE_RATE
from companion.errors import CompanionError
from companion.speak.espeak_library import make_espeak_available
from companion.speak.speakable import speakable

WORDS_PER_MINUTE = 170
"""Usual pace: slow enough to follow in noise, and an ordinary readback stays under 5 s."""
START_SECONDS = 20.0
"""Longest wait for an engine to start; espeak-ng takes 0.02 s, others load for seconds."""
RENDER_SECONDS = 15.0
"""Longest wait for a text to be rendered; espeak-ng takes about 0.01 s a sentence."""
QUIET = 0.004
"""Samples below this are the pause that engines put around speech."""
KEPT_PAUSE = 0.05
"""How much of that pause is kept, in seconds."""

ESPEAK_VOICE = "gmw/en-us"
"""Of espeak-ng's voices the one that Whisper tiny.en understood best of those compared."""

RESPELLED = {"thou": "thow", "kilohm": "kill ohm", "kilohms": "kill ohms", "tach": "tack"}
"""Words of the trade that engines mispronounce: "thou" is said as in "thousand"."""


class VoiceUnavailable(CompanionError):
    """There is no speech engine, or it does not work; the message says what to do."""


class CannotRender(VoiceUnavailable):
    """The engine speaks, but only through its own output."""


class SpeechEngine:
    """A speech engine, loaded and ready.

    Args:
        voice: Part of the name or identifier of one of its voices; its usual one if None.
        words_per_minute: Pace.

    Raises:
        VoiceUnavailable: If there is no engine, it does not start, or it has no such voice.
    """

    def __init__(self, voice: str | None = None, words_per_minute: int = WORDS_PER_MINUTE) -> None:
        self._voice = voice
        self._rate = words_per_minute
        self._tasks: queue.SimpleQueue[_Task] = queue.SimpleQueue()
        self._broken: str | None = None
        self._engine: Any = None
        threading.Thread(target=self._work, name="speech engine", daemon=True).start()
        self._ask(self._start, START_SECONDS, "did not start")

    def render(self, text: str) -> NDArray[np.float32]:
        """Render a text to sound.

        Args:
            text: Any text; digits and symbols are put into words first.

        Returns:
            Shape (n,), mono, -1 to 1, at ``SAMPLE_RATE``, without the pauses around it.

        Raises:
            CannotRender: If the engine has no way to do so; ``speak`` may still work.
            VoiceUnavailable: If the engine fails or hangs.
        """
        words = _respelled(speakable(text))
        if not words:
            return np.zeros(0, dtype=np.float32)
        sound: NDArray[np.float32] = self._ask(
            lambda: self._render(words), RENDER_SECONDS, "did not finish a sentence"
        )
        return sound

    def speak(self, text: str) -> None:
        """Speak through the engine's own output: for engines that cannot render to a file.

        Raises:
            VoiceUnavailable: If the engine fails or hangs.
        """
        words = _respelled(speakable(text))
        # Half the usual pace is the slowest that is still speech.
        longest = RENDER_SECONDS + len(words.split()) / self._rate * 120

        def aloud() -> None:
            self._engine.say(words)
            self._engine.runAndWait()

        self._ask(aloud, longest, "did not finish a sentence")

    def _ask(self, work: Callable[[], Any], seconds: float, failure: str) -> Any:
        if self._broken is not None:
            raise VoiceUnavailable(self._broken)
        task = _Task(work)
        self._tasks.put(task)
        if not task.done.wait(seconds):
            self._broken = f"The speech engine {failure}; start the program again."
            raise VoiceUnavailable(self._broken)
        if task.error is not None:
            raise task.error
        return task.result

    def _work(self) -> None:
        while True:
            task = self._tasks.get()
            try:
                task.result = task.work()
            except VoiceUnavailable as error:
                task.error = error
            # Whatever an engine raises, from COM errors to bare exceptions, means the same here.
            except Exception as error:
                reason = (str(error).splitlines() or [type(error).__name__])[0].rstrip(".")
                task.error = VoiceUnavailable(
                    f"The speech engine failed ({reason}); see 'companion checkup'."
                )
            task.done.set()

    def _start(self) -> None:
        make_espeak_available()
        try:
            import pyttsx3

            self._engine = pyttsx3.init()
        except Exception as error:
            raise VoiceUnavailable(_how_to_get_one()) from error
        if sys.platform == "linux":
            # Its driver prints a line for every file; standard output is not its own.
            from pyttsx3.drivers import espeak

            espeak.print = _say_nothing
        self._engine.setProperty("rate", self._rate)
        chosen = self._chosen()
        if chosen is not None:
            self._engine.setProperty("voice", chosen)

    def _chosen(self) -> str | None:
        wanted = self._voice or (ESPEAK_VOICE if sys.platform == "linux" else None)
        if wanted is None:
            return None
        voices = list(self._engine.getProperty("voices"))
        for voice in voices:
            if wanted.lower() in (str(voice.id).lower(), str(voice.name).lower()):
                return str(voice.id)
        for voice in voices:
            if wanted.lower() in f"{voice.id} {voice.name}".lower():
                return str(voice.id)
        if self._voice is None:
            return None
        raise VoiceUnavailable(
            f"The speech engine has no voice {self._voice!r}; "
            "mend or remove 'voice' in the settings."
        )

    def _render(self, words: str) -> NDArray[np.float32]:
        with tempfile.TemporaryDirectory() as folder:
            file = Path(folder) / "speech.wav"
            self._engine.save_to_file(words, str(file))
            self._engine.runAndWait()
            if not file.exists():
                raise CannotRender("The speech engine of this system cannot render to a file.")
            return _without_pauses(read_sound(file))


class _Task:
    def __init__(self, work: Callable[[], Any]) -> None:
        self.work = work
        self.done = threading.Event()
        self.result: Any = None
        self.error: VoiceUnavailable | None = None


def _respelled(words: str) -> str:
    return re.sub(r"\w+", lambda found: RESPELLED.get(found[0].lower(), found[0]), words)


def _without_pauses(sound: NDArray[np.float32]) -> NDArray[np.float32]:
    loud = np.flatnonzero(np.abs(sound) > QUIET)
    if len(loud) == 0:
        return sound[:0]
    kept = int(KEPT_PAUSE * SAMPLE_RATE)
    return sound[max(0, loud[0] - kept) : loud[-1] + kept]


def _how_to_get_one() -> str:
    if sys.platform == "linux":
        return "There is no speech engine; install one (pip install espeakng-loader)."
    return "There is no speech engine that pyttsx3 can use; replies are printed only."


def _say_nothing(*_: object, **__: object) -> None:
    pass
