"""Timers, of this session and of others."""

from __future__ import annotations

from typing import Literal

from companion.intent.call import Moment
from companion.job.events.base import Event


class TimerStarted(Event):
    """A timer; its deadline is a wall-clock instant, so that it survives a restart.

    Attributes:
        by: Whether a call started it or a step that waits.
        replaces: Number of the record that started a running timer of the same name, which this
            one ends.
        usual: Whether no length was called, so that it is the usual one.
    """

    kind: Literal["timer.started"] = "timer.started"
    name: str
    seconds: float
    due: Moment
    by: Literal["voice", "step"] = "voice"
    replaces: int | None = None
    usual: bool = False


class TimerRang(Event):
    """A deadline passed and was announced; ``count`` is 1 for the first ring."""

    kind: Literal["timer.rang"] = "timer.rang"
    name: str
    count: int


class TimerAcknowledged(Event):
    """ "Roger" to a ringing timer."""

    kind: Literal["timer.acknowledged"] = "timer.acknowledged"
    name: str


class TimerCancelled(Event):
    """Stopped by a call; ``replaced``: because another of the same name starts in its place."""

    kind: Literal["timer.cancelled"] = "timer.cancelled"
    name: str
    replaced: bool = False


class ElsewhereRang(Event):
    """A timer of another session rang here.

    Attributes:
        session: Name of that session.
        machine: Its machine.
        name: The timer.
        count: 1 for the first ring.
    """

    kind: Literal["elsewhere.rang"] = "elsewhere.rang"
    session: str
    machine: str
    name: str
    count: int


class ElsewhereAcknowledged(Event):
    """ "Roger" to a timer of another session.

    Attributes:
        session: Name of that session.
        machine: Its machine.
        name: The timer.
        kept: Whether the log of that session has it too.
    """

    kind: Literal["elsewhere.acknowledged"] = "elsewhere.acknowledged"
    session: str
    machine: str
    name: str
    kept: bool
