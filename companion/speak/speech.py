"""Text to sound, in a thread of its own and in bounded time.

Some engines must be used from the thread that made them, and any of them may hang. So one thread
does all their work, and whoever asks waits for a bounded time only.
"""

from __future__ import annotations

import queue
import re
import threading
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from companion.files.sound_format import SAMPLE_RATE
from companion.handbook.unit_table import UNITS
from companion.speak.engines import CannotRender, Engine, VoiceUnavailable, start_engine
from companion.speak.speakable import speakable

WORDS_PER_MINUTE = 170
"""Usual pace: slow enough to follow in noise, and an ordinary readback stays under 5 s."""
START_SECONDS = 20.0
"""Longest wait for an engine to start; some load for seconds (``docs/measurements.md``)."""
RENDER_SECONDS = 15.0
"""Longest wait for a text to be rendered (``docs/measurements.md`` has the usual)."""
QUIET = 0.004
"""Samples below this are the pause that engines put around speech."""
KEPT_PAUSE = 0.05
"""How much of that pause is kept, in seconds."""
SLOWEST = 60
"""Words a minute that no engine falls below, pauses and all: bounds the wait while one speaks."""

RESPELLED = {
    said: unit.respelled if said == unit.singular else f"{unit.respelled}s"
    for unit in UNITS.values()
    if unit.respelled
    for said in (unit.plural, unit.singular)
}
"""Words of units that engines mispronounce: "thou" is said as in "thousand"."""

StartEngine = Callable[[str | None, int], Engine]


class SpeechEngine:
    """A speech engine, loaded and ready; any thread may ask it.

    Args:
        voice: Part of the name of one of its voices; its usual one if None.
        words_per_minute: Pace.
        start: Starts the engine itself.

    Raises:
        VoiceUnavailable: If there is no engine, it does not start, or it has no such voice.
    """

    def __init__(
        self,
        voice: str | None = None,
        words_per_minute: int = WORDS_PER_MINUTE,
        *,
        start: StartEngine = start_engine,
    ) -> None:
        self._tasks: queue.SimpleQueue[_Task] = queue.SimpleQueue()
        self._broken: str | None = None
        threading.Thread(
            target=_work, args=(self._tasks,), name="speech engine", daemon=True
        ).start()
        self._engine: Engine = self._ask(
            lambda: start(voice, words_per_minute), START_SECONDS, "did not start"
        )

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
            lambda: self._engine.render(words), RENDER_SECONDS, "did not finish a sentence"
        )
        return _without_pauses(sound)

    def speak(self, text: str) -> None:
        """Speak through the engine's own output: for engines that cannot render.

        Raises:
            VoiceUnavailable: If the engine fails or hangs.
        """
        words = _respelled(speakable(text))
        longest = RENDER_SECONDS + len(words.split()) / SLOWEST * 60
        self._ask(lambda: self._engine.speak(words), longest, "did not finish a sentence")

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


class _Task:
    def __init__(self, work: Callable[[], Any]) -> None:
        self.work = work
        self.done = threading.Event()
        self.result: Any = None
        self.error: VoiceUnavailable | None = None


def _work(tasks: queue.SimpleQueue[_Task]) -> None:
    while True:
        task = tasks.get()
        try:
            task.result = task.work()
        except VoiceUnavailable as error:
            task.error = error
        # Whatever an engine raises, from COM errors to plain exceptions, means the same here.
        except Exception as error:
            reason = (str(error).splitlines() or [type(error).__name__])[0].rstrip(".")
            task.error = VoiceUnavailable(
                f"The speech engine failed ({reason}); see 'companion checkup'."
            )
        task.done.set()


def _respelled(words: str) -> str:
    return re.sub(r"\w+", lambda found: RESPELLED.get(found[0].lower(), found[0]), words)


def _without_pauses(sound: NDArray[np.float32]) -> NDArray[np.float32]:
    loud = np.flatnonzero(np.abs(sound) > QUIET)
    if len(loud) == 0:
        return sound[:0]
    kept = int(KEPT_PAUSE * SAMPLE_RATE)
    return sound[max(0, loud[0] - kept) : loud[-1] + kept]


__all__ = ["WORDS_PER_MINUTE", "CannotRender", "SpeechEngine", "VoiceUnavailable"]
