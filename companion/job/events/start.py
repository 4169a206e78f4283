"""What holds the start, and that the engine runs."""

from __future__ import annotations

from typing import Literal

from companion.job.events.base import Event
from companion.job.reason import Checked, Reason

HungBy = Literal["voice", "step", "implied"]
"""What hangs a tag: a call for it, a step of the card, or something else that was called."""


class TagHung(Event):
    """A "do not start" tag.

    Attributes:
        by: What hung it.
        because: Why, where it hung by itself.
        step: The step of the card that hung it, where one did.
        reason: Why, in words, in older logs.
    """

    kind: Literal["tag.hung"] = "tag.hung"
    tag: str
    by: HungBy
    because: tuple[Reason, ...] = ()
    step: str | None = None
    reason: str = ""


class TagCleared(Event):
    """Taken down after a readback and "affirm"."""

    kind: Literal["tag.cleared"] = "tag.cleared"
    tag: str


class StartChecked(Event):
    """The start gate was asked.

    Attributes:
        standing: The tags that hang, the oldest first.
        reasons: Why the gate stays shut.
        known: What calls tell and do not tell.
        not_checked: What nobody called, in words, in older logs.
        checked: What was called, in words, in older logs.
    """

    kind: Literal["start.checked"] = "start.checked"
    standing: tuple[str, ...]
    reasons: tuple[Reason, ...] = ()
    known: Checked | None = None
    not_checked: tuple[str, ...] = ()
    checked: tuple[str, ...] = ()


class StartAffirmed(Event):
    """The person affirmed that they will start; never recorded while a tag hangs."""

    kind: Literal["start.affirmed"] = "start.affirmed"


class EngineRunning(Event):
    """The engine runs.

    Attributes:
        against: The tags that hung all the same.
        reasons: What else spoke against a start.
    """

    kind: Literal["engine.running"] = "engine.running"
    against: tuple[str, ...] = ()
    reasons: tuple[Reason, ...] = ()


class EngineStopped(Event):
    """The engine stands."""

    kind: Literal["engine.stopped"] = "engine.stopped"
