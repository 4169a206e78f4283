"""Events and answers put into the words that are spoken."""
# CONTRACT STUB: the speak room's owner fills this in; the signature binds.
from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from companion.job.answers import Answer
from companion.job.events import AnyEvent
from companion.job.state import State

Tone = Literal["recorded", "question", "not-understood", "ring", "warning", "none"]


@dataclass(frozen=True, slots=True)
class Reply:
    """What to sound and say: a short tone first, then the text."""

    tone: Tone
    text: str


def word(state: State, events: Sequence[AnyEvent], answers: Sequence[Answer]) -> Reply | None:
    """One spoken answer for everything a call brought; None when nothing is to be said.

    Args:
        state: After the events.
        events: Recorded by the call, in order.
        answers: To give, in order.
    """
    raise NotImplementedError
