"""The voice at the bench: engine and loudspeaker in a program of their own, which is killed where
it hangs and started again wherever it ended or has no sound.

A fresh program also sees loudspeakers that were plugged in since, without a word to the microphone.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from companion.audio.own_sound import OwnSound
from companion.live.beside import Ended, Late, ProgramBeside
from companion.live.voice_program import (
    Began,
    Done,
    Hush,
    Manner,
    Over,
    Render,
    Sounds,
    Unknown,
)
from companion.live.watchdog import Again
from companion.speak.engines import VoiceUnavailable
from companion.speak.speech import START_SECONDS
from companion.speak.voice import Voice, VoiceSettings, open_voice
from companion.speak.wording import Reply

BEGIN_SECONDS = 8.0
"""Longest wait for a reply to begin to sound; rendering takes far less (``docs/measurements.md``).
Our own figure."""
PLAYING_SECONDS = 25.0
"""How much longer than it is a sound may take: one whose device goes away is tried once more from
its beginning, each time for as long as ``audio/player.py`` waits for a slow sound server. A sound
that hangs longer is reported by nobody else."""
PLUGGED_IN_SECONDS = 10.0
"""Seconds before a missing loudspeaker is looked for again: nobody plugs one in sooner."""

MODULE = "companion.live.voice_program"
MEANWHILE = "I cannot speak; read the screen."
BACK = "I can speak again."


class VoiceBeside:
    """A ``Voice`` that works in another program, and is ``Watched``.

    Args:
        settings: Which voice, pace and device.
        own: Told of all that sounds; None where nobody wants to know.
        module: The program; another one in tests of it.
        clock: Seconds of a clock that does not jump.

    Attributes:
        trouble: Why replies are not heard; None while they are.
    """

    def __init__(
        self,
        settings: VoiceSettings,
        *,
        own: OwnSound | None = None,
        module: str = MODULE,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._own = own
        self._manner = Manner(
            settings.speech_voice, settings.speech_rate, settings.speaker, telling=own is not None
        )
        self._module = module
        self._clock = clock
        self._again = Again()
        self._program: ProgramBeside | None = None
        self._fresh: ProgramBeside | None = None
        self._began = 0.0
        self._news: list[str] = []
        self.trouble: str | None = None
        self._begin()
        if self._fresh is not None:
            self._take_up(START_SECONDS)
        # The caller that opens the voice reports that.
        self._news.clear()

    @property
    def pid(self) -> int | None:
        """The number of its program in the system, while there is one."""
        return None if self._program is None else self._program.pid

    def say(self, reply: Reply) -> None:
        """Sound a reply; see ``Voice``."""
        self._look_after()
        program = self._program
        if program is None:
            return
        program.send(reply)
        longest = BEGIN_SECONDS
        try:
            while not isinstance(answer := program.receive(longest), Done):
                if isinstance(answer, Sounds):
                    longest = PLAYING_SECONDS + 2 * answer.seconds
                else:
                    self._sounded(answer)
        except Late:
            self._failed("The voice does not answer and is started again.")
        except Ended:
            self._failed("The voice has ended and is started again.")
        else:
            self._found(answer.trouble)

    def _sounded(self, answer: object) -> None:
        """Pass on what the program tells of its sound."""
        if self._own is None:
            return
        match answer:
            case Began(samples=samples, rate=rate, at=at):
                self._own.known = True
                self._own.began(samples.astype(np.float32) / np.float32(32767), at, rate)
            case Unknown():
                self._own.known = False
            case Over(at=at):
                self._own.known = True
                self._own.ended(at)

    def hush(self) -> None:
        """Cut short what is being said; see ``Voice``."""
        program = self._program
        if program is not None:
            program.send(Hush())

    def render(self, text: str) -> NDArray[np.float32]:
        """Return a text as sound; see ``Voice``."""
        self._look_after()
        if self._program is None:
            raise VoiceUnavailable(self.trouble or "The voice is being started.")
        self._program.send(Render(text))
        try:
            answer = self._program.receive(BEGIN_SECONDS)
            while isinstance(answer, Began | Over):
                # The loudspeaker was slow.
                answer = self._program.receive(BEGIN_SECONDS)
        except (Late, Ended):
            self._failed("The voice has ended and is started again.")
            raise VoiceUnavailable(self.trouble or "") from None
        if not isinstance(answer, Done) or answer.sound is None:
            raise VoiceUnavailable(getattr(answer, "trouble", None) or "Nothing was rendered.")
        return answer.sound

    def news(self) -> Sequence[str]:
        """See ``Watched``."""
        self._look_after()
        news, self._news = self._news, []
        return news

    def close(self) -> None:
        """End its program; harmless when done already."""
        for program in (self._program, self._fresh):
            if program is not None:
                program.kill()
        self._program = self._fresh = None

    # --- starting again --------------------------------------------------------------------------
    def _look_after(self) -> None:
        if self._program is not None and self._program.ended:
            self._failed("The voice has ended and is started again.")
        if self._fresh is not None:
            self._take_up(0.0)
        elif self.trouble is not None and self._again.may_try(self._clock()):
            self._begin()

    def _begin(self) -> None:
        """Start a fresh program; the old one goes on sounding what it can."""
        self._began = self._clock()
        try:
            self._fresh = ProgramBeside(self._module)
        except Ended:
            self._failed("The voice cannot be started.")
            return
        self._fresh.send(self._manner)

    def _take_up(self, seconds: float) -> None:
        """Take up the fresh program, if it is ready by now."""
        assert self._fresh is not None
        try:
            answer = self._fresh.receive(seconds)
        except Late:
            if seconds or self._clock() - self._began > START_SECONDS:
                self._failed("The voice does not start.")
            return
        except Ended:
            self._failed("The voice does not start.")
            return
        if self._program is not None:
            self._program.kill()
        self._program, self._fresh = self._fresh, None
        self._found(answer.trouble if isinstance(answer, Done) else None, fresh=True)

    def _found(self, trouble: str | None, *, fresh: bool = False) -> None:
        """Take in how it stands now, and tell what has changed."""
        if trouble is None:
            if self.trouble is not None:
                self._news.append(BACK)
            self._again.began(self._clock())
        else:
            self._tell(trouble)
            if fresh or self.trouble is None:
                self._again.failed(self._clock(), soonest=PLUGGED_IN_SECONDS)
        self.trouble = trouble

    def _failed(self, trouble: str) -> None:
        """Give it up."""
        self.close()
        self._tell(trouble)
        self.trouble = trouble
        self._again.failed(self._clock())
        if self._again.may_try(self._clock()):
            self._begin()

    def _tell(self, trouble: str) -> None:
        if self.trouble is None:
            self._news.append(f"{trouble} {MEANWHILE}")


def bench_voice(settings: VoiceSettings, *, quiet: bool, own: OwnSound | None = None) -> Voice:
    """Return the voice of a live session.

    Args:
        settings: Which voice, pace and device.
        quiet: Sound nothing; nothing is started for it then.
        own: Told of all that sounds, or None.
    """
    return open_voice(settings, quiet=True) if quiet else VoiceBeside(settings, own=own)
