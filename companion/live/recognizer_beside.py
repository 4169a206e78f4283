"""The recognizer at the bench: in a program of its own, which is killed where it hangs and started
again wherever it ended.

What it was recognizing then is not heard: the call is asked for again. Everything else, timers
above all, goes on.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from companion.errors import CompanionError, WrongUse
from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import CallGrammar
from companion.live.beside import Ended, Late, ProgramBeside
from companion.live.recognizer_program import (
    Answer,
    Hear,
    ListenFor,
    Spot,
    Transcribe,
    Wanted,
)
from companion.live.watchdog import Again
from companion.recognize.attempt import HearingFailed
from companion.recognize.protocol import Recognition, RecognizerUnavailable
from companion.recognize.spotting import Spotted

START_SECONDS = 120.0
"""Longest wait for a model to be loaded: many times the usual (``docs/measurements.md``), for a
slow disk while other programs start."""
HEAR_SECONDS = 10.0
"""Longest wait for what was made of a call, beyond ``TIMES_ITS_LENGTH``
(``docs/measurements.md``)."""
TIMES_ITS_LENGTH = 4.0
"""How many times its length the recognition of a call may take: a shop's computer may be ten times
slower than ours (``docs/measurements.md``); our own figure."""
GRAMMAR_SECONDS = 30.0
"""Longest wait for the words of a job to be taken in (``docs/measurements.md``)."""
WAIT_SECONDS = 8.0
"""How long a call waits for a recognizer that is being started."""

MODULE = "companion.live.recognizer_program"
MEANWHILE = "Calls are not heard; timers still ring."
BACK = "The recognizer hears again."


class EngineFailed(Exception):
    """What an engine raised, as it named it."""


class RecognizerBeside:
    """A ``Recognizer`` that works in another program, and is ``Watched``.

    Args:
        wanted: Which one.
        meanwhile: Done while it is loaded, which takes as long.
        module: The program; another one in tests of it.
        clock: Seconds of a clock that does not jump.

    Raises:
        WrongUse: If there is no recognizer or second of this name.
        RecognizerUnavailable: If one of them is missing or damaged, or does not start.
        CompanionError: If they do not fit each other.
    """

    def __init__(
        self,
        wanted: Wanted,
        *,
        meanwhile: Callable[[], object] = lambda: None,
        module: str = MODULE,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._wanted = wanted
        self._module = module
        self._clock = clock
        self._again = Again()
        self._program: ProgramBeside | None = None
        self._grammar: CallGrammar | None = None
        self._loading = 0
        self._began = 0.0
        self._told = False
        self._news: list[str] = []
        self.name = ""
        self._start()
        try:
            meanwhile()
        except BaseException:
            self.close()
            raise
        while self._loading:
            self._first_answer()

    @property
    def pid(self) -> int | None:
        """The number of its program in the system, while there is one."""
        return None if self._program is None else self._program.pid

    def listen_for(self, grammar: CallGrammar) -> None:
        """Hold every later utterance to this grammar; see ``Recognizer``.

        Raises:
            RecognizerUnavailable: If it cannot; not while it is away.
        """
        self._grammar = grammar
        if self._program is None or self._loading:
            if self._program is not None:
                self._program.send(ListenFor(grammar))
                self._loading += 1
            return
        try:
            answer = self._ask(ListenFor(grammar), GRAMMAR_SECONDS)
        except HearingFailed:
            # It is started again with this grammar, and that is reported then.
            return
        if answer.refused is not None or answer.failed is not None:
            raise RecognizerUnavailable(
                answer.refused[0]
                if answer.refused is not None
                else f"The recognizer cannot take in the words of this job ({answer.failed})."
            )

    def recognize(
        self,
        samples: NDArray[np.float32],
        *,
        call_sign_needed: bool = False,
        number_alone: bool = False,
    ) -> Recognition:
        """Recognize one utterance; see ``Recognizer``.

        Args:
            samples: Shape (n,), mono, -1 to 1, at 16 kHz.
            call_sign_needed: Only a call that begins with the call sign counts.
            number_alone: A number by itself counts too: one is asked about.

        Raises:
            HearingFailed: If it hangs, ends, or is away; says what becomes of it.
            EngineFailed: If the engine raised something.
        """
        heard = self._heard(Hear(samples, call_sign_needed, number_alone), samples)
        assert isinstance(heard, Recognition)
        return heard

    def spot(self, samples: NDArray[np.float32]) -> Spotted | None:
        """Look for the call sign; see ``Spotter``. None while the recognizer is away.

        Raises:
            HearingFailed: If it hangs or ends.
            EngineFailed: If the engine raised something.
        """
        if self._program is None or self._loading:
            return None
        found = self._heard(Spot(samples), samples)
        return found if isinstance(found, Spotted) else None

    def transcribe(self, samples: NDArray[np.float32]) -> str | None:
        """Transcribe free speech; see ``Recognizer``, and ``recognize`` for what is raised."""
        heard = self._heard(Transcribe(samples), samples)
        return heard if isinstance(heard, str) else None

    def news(self) -> Sequence[str]:
        """See ``Watched``."""
        if self._program is None:
            if self._again.may_try(self._clock()):
                self._start()
        else:
            self._look()
        news, self._news = self._news, []
        return news

    def close(self) -> None:
        """End its program; harmless when done already."""
        if self._program is not None:
            self._program.kill()
            self._program = None

    # --- asking ----------------------------------------------------------------------------------
    def _heard(
        self, message: object, samples: NDArray[np.float32]
    ) -> str | Recognition | Spotted | None:
        self._wait_for_it()
        longest = HEAR_SECONDS + TIMES_ITS_LENGTH * len(samples) / SAMPLE_RATE
        answer = self._ask(message, longest)
        if answer.refused is not None:
            raise EngineFailed(answer.refused[0])
        if answer.failed is not None:
            raise EngineFailed(answer.failed)
        return answer.value

    def _ask(self, message: object, seconds: float) -> Answer:
        assert self._program is not None
        self._program.send(message)
        try:
            answer: Answer = self._program.receive(seconds)
        except Late:
            raise self._lost("did not answer") from None
        except Ended:
            raise self._lost("has ended") from None
        self._news.extend(answer.news)
        return answer

    def _lost(self, how: str) -> HearingFailed:
        """Give the program up, start it again where it is time to, and say so."""
        self._give_up()
        if self._again.may_try(self._clock()):
            self._start()
        # The caller is told now, so that only the return is news.
        self._told = True
        return HearingFailed(
            f"The recognizer {how} and is started again; say it again.",
            f"recognizer failed: it {how}",
        )

    def _wait_for_it(self) -> None:
        """Wait a moment for a recognizer that is being started."""
        until = self._clock() + WAIT_SECONDS
        self._news.extend(self.news())
        while self._program is not None and self._loading:
            left = until - self._clock()
            if left <= 0:
                break
            self._look(left)
        if self._program is None or self._loading:
            raise HearingFailed(
                f"The recognizer is away and is started again. {MEANWHILE}",
                "recognizer failed: it is away",
            )

    # --- starting --------------------------------------------------------------------------------
    def _start(self) -> None:
        self._began = self._clock()
        try:
            self._program = ProgramBeside(self._module)
        except Ended as error:
            self._away(f"The recognizer cannot be started ({error}).")
            return
        self._program.send(self._wanted)
        self._loading = 1
        if self._grammar is not None:
            self._program.send(ListenFor(self._grammar))
            self._loading = 2

    def _first_answer(self) -> None:
        """Wait for the very first start; what fails then ends the command."""
        if self._program is None:
            raise RecognizerUnavailable(
                "The recognizer cannot be started; close other programs, then call this again."
            )
        try:
            answer: Answer = self._program.receive(START_SECONDS)
        except (Late, Ended):
            self.close()
            raise RecognizerUnavailable(
                "The recognizer does not start; look at companion checkup."
            ) from None
        if answer.refused is not None:
            self.close()
            sentence, status = answer.refused
            raise (WrongUse if status == WrongUse.exit_status else CompanionError)(sentence)
        if answer.failed is not None:
            self.close()
            raise RecognizerUnavailable(
                f"The recognizer cannot be loaded ({answer.failed}); look at companion checkup."
            )
        self._loaded(answer)

    def _look(self, seconds: float = 0.0) -> None:
        """Look whether the recognizer is loaded by now, or has ended."""
        assert self._program is not None
        if not self._loading:
            if self._program.ended:
                self._away("The recognizer has ended and is started again.")
            return
        try:
            answer: Answer = self._program.receive(seconds)
        except Late:
            if self._clock() - self._began > START_SECONDS:
                self._away("The recognizer does not start.")
            return
        except Ended:
            self._away("The recognizer does not start.")
            return
        why = answer.failed if answer.refused is None else answer.refused[0]
        if why is not None:
            self._away(f"The recognizer cannot be started. {why.rstrip('.')}.")
            return
        self._loaded(answer)

    def _loaded(self, answer: Answer) -> None:
        self._loading -= 1
        if isinstance(answer.value, str):
            self.name = answer.value
        if not self._loading:
            self._again.began(self._clock())
            if self._told:
                self._told = False
                self._news.append(BACK)

    def _away(self, sentence: str) -> None:
        """Give the recognizer up for now; this is reported once, until it is back."""
        self._give_up()
        if not self._told:
            self._told = True
            self._news.append(f"{sentence} {MEANWHILE}")

    def _give_up(self) -> None:
        self.close()
        self._loading = 0
        self._again.failed(self._clock())
