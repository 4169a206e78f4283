"""What every recognizer takes and gives: an utterance and a grammar in, ranked hypotheses with
scores out."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from companion.errors import CompanionError
from companion.grammar.compiled import CallGrammar


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One sentence that an utterance may have been.

    Attributes:
        text: Lower-case words separated by single spaces.
        score: Natural-logarithm score; comparable only with the others of the same recognition.
        confidence: Estimated probability that these are the words spoken, 0 to 1, given that the
            utterance
            was a call at all.
    """

    text: str
    score: float
    confidence: float


@dataclass(frozen=True, slots=True)
class Recognition:
    """What one engine makes of one utterance.

    Attributes:
        engine: Name of the recognizer.
        hypotheses: Best first; empty when nothing was heard.
        call_confidence: Estimated probability that the utterance was a call of the grammar at
            all, 0 to 1.
        transcript: What was said without being held to the grammar, where the engine makes that out
            (a spoken note, talk that is no call); else None.
        decode_seconds: Time spent on this utterance, in seconds.
        otherwise: A word of the best hypothesis, and one that no such call has and that sounds more
            like what was said; None where there is none.
        second: What a second engine made of the numbers in it, where there is one and it was asked.
    """

    engine: str
    hypotheses: tuple[Hypothesis, ...]
    call_confidence: float
    transcript: str | None
    decode_seconds: float
    otherwise: tuple[str, str] | None = None
    second: Recognition | None = None


class Recognizer(Protocol):
    """One engine, loaded and ready."""

    @property
    def name(self) -> str:
        """The engine and its model, as the log names them."""
        ...

    def listen_for(self, grammar: CallGrammar) -> None:
        """Hold every later utterance to this grammar; costs time once a grammar, not once an
        utterance."""
        ...

    def recognize(
        self,
        samples: NDArray[np.float32],
        *,
        call_sign_needed: bool = False,
        number_alone: bool = False,
    ) -> Recognition:
        """Recognize one utterance.

        Args:
            samples: Shape (n,), mono, -1 to 1, at ``SAMPLE_RATE``.
            call_sign_needed: Only a call that begins with the call sign counts: an engine that
                finds early that there is none may say that it heard nothing.
            number_alone: A number by itself counts as well, with or without its unit: one is asked
                about.

        Returns:
            The ranked hypotheses under the grammar given to ``listen_for`` last.
        """
        ...

    def transcribe(self, samples: NDArray[np.float32]) -> str | None:
        """Transcribe free speech, or return None where the engine cannot.

        Args:
            samples: Shape (n,), mono, -1 to 1, at ``SAMPLE_RATE``; any length.
        """
        ...


class RecognizerModule(Protocol):
    """What the module of a recognizer has, so that it can be chosen; it loads no engine when it is
    imported."""

    def load(self, model: Path | None, /) -> Recognizer:
        """Load the recognizer.

        Args:
            model: Folder of its model; the one that is found by itself if None.

        Raises:
            RecognizerUnavailable: If the engine or the model is missing or broken.
        """
        ...

    def found(self) -> str:
        """Say in a sentence which model would be loaded, looked for and not loaded.

        Raises:
            RecognizerUnavailable: If the engine or every model is missing.
        """
        ...

    def is_model(self, folder: Path, /) -> bool:
        """Whether a folder holds a model of this kind, by the files that every one has."""
        ...


class RecognizerUnavailable(CompanionError):
    """An engine or its model is missing or broken; the message says how to get one."""


class ModelDamaged(RecognizerUnavailable):
    """A model is there and is not what it should be: no matter of installing anything else."""
