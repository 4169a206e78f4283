"""Recognizing that may fail: one sentence for whatever an engine raises, so that one clip ends
neither the session nor the other clips."""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from companion.errors import CompanionError
from companion.recognize.protocol import Recognition, Recognizer

TOO_LITTLE_MEMORY = (
    "There is too little memory to hear with; close other programs, then say it again."
)
FAILED = "The recognizer failed at that call; say it again, or look at companion checkup."
_OF_MEMORY = re.compile(r"alloc|memory", re.IGNORECASE)
"""How engines written in C++ report that memory is short."""


class HearingFailed(CompanionError):
    """An engine failed at one utterance.

    Attributes:
        reason: What it reported, for the log.
    """

    def __init__(self, sentence: str, reason: str) -> None:
        super().__init__(sentence)
        self.reason = reason


def attempt(
    recognizer: Recognizer,
    samples: NDArray[np.float32],
    call_sign_needed: bool,
    number_alone: bool = False,
) -> Recognition:
    """Recognize one utterance.

    Args:
        recognizer: Listening for a grammar.
        samples: Shape (n,), mono, -1 to 1, at 16 kHz.
        call_sign_needed: See ``Recognizer``.
        number_alone: Likewise.

    Raises:
        HearingFailed: If the engine raises anything.
    """
    try:
        return recognizer.recognize(
            samples, call_sign_needed=call_sign_needed, number_alone=number_alone
        )
    except HearingFailed:
        # A recognizer in a program of its own has already said what became of the call.
        raise
    except Exception as error:
        short = isinstance(error, MemoryError) or _OF_MEMORY.search(str(error)) is not None
        what = f"{type(error).__name__}: {error}".strip(": ")
        raise HearingFailed(
            TOO_LITTLE_MEMORY if short else FAILED, f"recognizer failed: {what}"
        ) from error
