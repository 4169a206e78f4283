"""Two recognizers as one: where the first hears a number, a second hears the same sound.

The second is held to what the first heard with its numbers open, so that it can say nothing but
which number it was. What becomes of its answer is decided in ``companion/intent/second.py``.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from companion.errors import WrongUse
from companion.grammar.compiled import CallGrammar
from companion.grammar.other_numbers import OtherNumbers, WordStates, number_words
from companion.recognize.protocol import Recognition, Recognizer

SECOND_NAMES = ("none", "sphinx", "vosk")
"""What may be asked for as second."""


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
    """A ``Recognizer`` whose recognitions hold a second engine's answer about their numbers."""

    def __init__(self, first: Recognizer, second: NumberEars) -> None:
        self.first = first
        self.second = second
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
        self, samples: NDArray[np.float32], *, call_sign_needed: bool = False
    ) -> Recognition:
        """Recognize one utterance, as the first does; the second hears it where it has numbers."""
        heard = self.first.recognize(samples, call_sign_needed=call_sign_needed)
        if self._grammar is None or not heard.hypotheses:
            return heard
        words = heard.hypotheses[0].text.split()
        if self._numbers.isdisjoint(words):
            return heard
        try:
            self.second.listen_for(OtherNumbers(self._grammar, words, self._numbers))
            second = self.second.recognize(samples)
        # Whatever an engine raises: the first has heard the call, and a second that hears nothing
        # changes nothing.
        except Exception:
            return heard
        return replace(
            heard,
            engine=self.name,
            second=second,
            decode_seconds=heard.decode_seconds + second.decode_seconds,
        )

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

        return WithSecond(first, SphinxEars())
    from companion.recognize.streaming import StreamingRecognizer

    if isinstance(first, StreamingRecognizer):
        raise WrongUse("Vosk is the first recognizer already; a second must be another: sphinx.")
    return WithSecond(first, StreamingRecognizer())
