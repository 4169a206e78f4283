"""How far the steps of the card are, and the cautions spoken at them."""

from __future__ import annotations

from typing import Literal

from companion.job.events.base import Event

StepBy = Literal["opening", "done", "next", "back", "skip", "go"]
"""Which call leads to a step."""


SkipReason = Literal["no parts", "not needed", "later"]
"""Why a step is skipped; a step not needed is finished, the others stay left."""


class StepEntered(Event):
    """A step of the card became the current one.

    Attributes:
        by: Which call led to it.
        against: What should have been true before and was not, in words, as it was affirmed.
    """

    kind: Literal["step.entered"] = "step.entered"
    step: str
    by: StepBy = "next"
    against: tuple[str, ...] = ()


class StepDone(Event):
    """A step was done."""

    kind: Literal["step.done"] = "step.done"
    step: str


class StepSkipped(Event):
    """A step was skipped, knowingly; ``reason`` is None where none was called."""

    kind: Literal["step.skipped"] = "step.skipped"
    step: str
    reason: SkipReason | None = None


class StepReopened(Event):
    """A step that had been skipped is taken up after all."""

    kind: Literal["step.reopened"] = "step.reopened"
    step: str


class StepAnswered(Event):
    """What a step asks was answered."""

    kind: Literal["step.answered"] = "step.answered"
    step: str
    answer: Literal["affirm", "negative"]


class StepRuled(Event):
    """The person said whether a step applies."""

    kind: Literal["step.ruled"] = "step.ruled"
    step: str
    applies: bool


class CautionSpoken(Event):
    """A caution to be spoken now, and kept so that it is not repeated without reason.

    Attributes:
        caution: Its short name; for a caution of the job card, its text.
        text: What is spoken.
        source: Where it is from, or "common practice".
    """

    kind: Literal["caution"] = "caution"
    caution: str
    text: str
    source: str = "common practice"
