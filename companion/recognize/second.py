"""Two recognizers as one: where the first hears a number, a second hears the same sound.

The second is held to what the first heard with its numbers open, so that it can say nothing but
which number it was. What becomes of its answer is decided in ``companion/intent/second.py``.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from companion.errors import WrongUse
from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import CallGrammar
from companion.grammar.other_numbers import OtherNumbers, WordStates, number_words
from companion.recognize.bounded import Bounded, TooLate
from companion.recognize.protocol import Recognition, Recognizer

SECOND_NAMES = ("none", "sphinx", "vosk")
"""What may be asked for as second."""

HEAR_SECONDS = 4.0
"""Longest wait for the second recognizer, beyond the length of the call (``docs/measurements.md``
has the usual): somebody waits for an answer. Our own figure."""
ASIDE_SECONDS = 30.0
"""How long a second that failed is not asked, in seconds."""
SECOND_GONE = (
    "The second recognizer does not work. Numbers are heard by one only; listen to the readback."
)
SECOND_BACK = "The second recognizer works again."


class NumberEars(Protocol):
    """An engine that can be held to another grammar with every utterance."""

    @property
    def name(self) -> str:
        """The engine and its model, as the log names them."""
        ...

    def listen_for(self, grammar: WordStates) -> None:
        """Hold every later utterance to this grammar."""
        ...

    def recognize(self, samples: NDArray[np.float32]) -> Recognition:
        """Recognize one utterance: shape (n,), mono, -1 to 1, at ``SAMPLE_RATE``."""
        ...


class WithSecond:
    """A ``Recognizer`` whose recognitions hold a second engine's answer about their numbers.

    A second that fails or hangs is set aside for a while, and a fresh one then tried; what the
    first hears is never held back by it.

    Args:
        first: Hears the calls.
        second: Hears their numbers.
        fresh: Loads the second anew, where it hung.
        clock: Seconds of a clock that does not jump.
    """

    def __init__(
        self,
        first: Recognizer,
        second: NumberEars,
        *,
        fresh: Callable[[], NumberEars] | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.first = first
        self.second = second
        self._fresh = fresh
        self._clock = clock
        self._bounded = Bounded()
        self._hung = False
        self._failing = False
        self._aside_until = 0.0
        self._news: list[str] = []
        self._grammar: CallGrammar | None = None
        self._numbers: frozenset[str] = frozenset()

    @property
    def name(self) -> str:
        """Both engines, as the log names them."""
        return f"{self.first.name}, numbers also by {self.second.name}"

    def listen_for(self, grammar: CallGrammar) -> None:
        """Hold every later utterance to this grammar."""
        self.first.listen_for(grammar)
        self._grammar = grammar
        self._numbers = number_words(grammar)

    def recognize(
        self,
        samples: NDArray[np.float32],
        *,
        call_sign_needed: bool = False,
        number_alone: bool = False,
    ) -> Recognition:
        """Recognize one utterance, as the first does; the second hears it where it has numbers.

        Args:
            samples: Shape (n,), mono, -1 to 1, at 16 kHz.
            call_sign_needed: Only a call that begins with the call sign counts.
            number_alone: A number by itself counts too: one is asked about.
        """
        heard = self.first.recognize(
            samples, call_sign_needed=call_sign_needed, number_alone=number_alone
        )
        if self._grammar is None or not heard.hypotheses:
            return heard
        words = heard.hypotheses[0].text.split()
        if self._numbers.isdisjoint(words):
            return heard
        if self._clock() < self._aside_until or self._bounded.used_up:
            return heard
        longest = HEAR_SECONDS + len(samples) / SAMPLE_RATE
        try:
            second = self._bounded.do(partial(self._second_hears, words, samples), longest)
        # Any exception of the second engine is taken: the first has heard the call, and a second
        # that hears nothing changes nothing.
        except Exception as error:
            self._set_aside(hung=isinstance(error, TooLate))
            return heard
        if self._failing:
            self._failing = False
            self._news.append(SECOND_BACK)
        return replace(
            heard,
            engine=self.name,
            second=second,
            decode_seconds=heard.decode_seconds + second.decode_seconds,
        )

    def news(self) -> Sequence[str]:
        """Return once what became of the second, each a sentence to say."""
        news, self._news = self._news, []
        return news

    def _second_hears(self, words: Sequence[str], samples: NDArray[np.float32]) -> Recognition:
        assert self._grammar is not None
        if self._hung and self._fresh is not None:
            # The thread that hangs still holds the old one.
            self.second = self._fresh()
            self._hung = False
        self.second.listen_for(OtherNumbers(self._grammar, words, self._numbers))
        return self.second.recognize(samples)

    def _set_aside(self, *, hung: bool) -> None:
        self._hung = self._hung or hung
        self._aside_until = self._clock() + ASIDE_SECONDS
        if not self._failing:
            self._failing = True
            self._news.append(SECOND_GONE)

    def transcribe(self, samples: NDArray[np.float32]) -> str | None:
        """Transcribe free speech: the first alone."""
        return self.first.transcribe(samples)


def with_second(first: Recognizer, name: str) -> Recognizer:
    """Put a second recognizer beside the first.

    Args:
        first: Hears the calls.
        name: One of ``SECOND_NAMES``.

    Returns:
        The first alone where ``name`` is ``none``.

    Raises:
        WrongUse: If there is no second recognizer of this name, or it is the first.
        RecognizerUnavailable: If it or its model is missing or broken.
    """
    if name not in SECOND_NAMES:
        raise WrongUse(
            f"There is no second recognizer '{name}'; use one of: {', '.join(SECOND_NAMES)}."
        )
    if name == "none":
        return first
    if name == "sphinx":
        from companion.recognize.sphinx import SphinxEars

        return WithSecond(first, SphinxEars(), fresh=SphinxEars)
    from companion.recognize.streaming import StreamingRecognizer

    if isinstance(first, StreamingRecognizer):
        raise WrongUse("Vosk is the first recognizer already; a second must be another: sphinx.")
    return WithSecond(first, StreamingRecognizer(), fresh=StreamingRecognizer)
