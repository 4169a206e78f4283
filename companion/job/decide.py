"""What an intent does to a job: events to record and answers to give."""
# CONTRACT STUB: the job room's owner fills this in; the signatures bind.
from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from companion.intent.intents import Intent
from companion.job.answers import Answer
from companion.job.events import AnyEvent
from companion.job.state import State


@dataclass(frozen=True, slots=True)
class Response:
    """What to record, in order, and what to answer after it is on disk."""

    events: tuple[AnyEvent, ...] = ()
    answers: tuple[Answer, ...] = ()


def decide(state: State, intent: Intent, *, at: datetime, heard: int | None) -> Response:
    """Act on an understood call."""
    raise NotImplementedError


def ask(state: State, candidates: tuple[Intent, ...], *, at: datetime, heard: int | None) -> Response:
    """Put a doubtful call as a question; "affirm" acts on the first candidate, "negative" asks the next."""
    raise NotImplementedError


def due(state: State, at: datetime) -> Response:
    """What the clock has brought: timers that ring first or again."""
    raise NotImplementedError


def next_deadline(state: State) -> datetime | None:
    """When ``due`` will next have something, or None."""
    raise NotImplementedError


def opening(state: State, *, at: datetime) -> Response:
    """What is said on starting or resuming: hanging tags first, then overdue timers, then the current step."""
    raise NotImplementedError
