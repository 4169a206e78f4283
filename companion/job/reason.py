"""Why an engine must not be started, as values: what, which part, since when, and in which session.

They stand in the log, and are put into words by ``speak`` alone.
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, model_validator

from companion.intent.call import ExactDecimal, Moment


class Value(BaseModel):
    """Frozen, and refuses keys it does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class Reason(Value):
    """One thing that keeps the engine from being started.

    Attributes:
        about: What it is about: work on a part or a finding, a fluid, a tag that nothing else
            stands for, the engine itself, a step under way, a log that cannot be read, work that
            was disregarded after a tag came down for it. ``words`` is of older logs, which have a
            sentence and no values.
        what: Of work the action (``removed``), of a finding the condition (``cracked``), of a fluid
            ``drained``, ``low``, ``over``, ``level unproven``, ``none added`` or ``overfilled``; of
            a tag what hung it; of the engine ``running``; of a step ``under way``.
        name: The part, fluid, tag, step or session.
        back: The call that ends it: ``installed``.
        tag: The tag that hangs for it, or None.
        left: How many of them are left, where a number was called.
        of: How many there were.
        every: Several without a number: all of them.
        since: When it was called.
        session: The session in which; None for the one that this stands in.
        days: Of one from another session: how many days ago that was.
        step: The step of the card that did it, where one did.
    """

    about: Literal["work", "finding", "fluid", "tag", "engine", "step", "log", "undone", "words"]
    what: str
    name: str = ""
    back: str | None = None
    tag: str | None = None
    left: int = 1
    of: int = 1
    every: bool = False
    since: Moment | None = None
    session: str | None = None
    days: int = 0
    step: str | None = None

    @model_validator(mode="before")
    @classmethod
    def _of_an_older_log(cls, given: Any) -> Any:
        return {"about": "words", "what": given} if isinstance(given, str) else given


class Filled(Value):
    """What was called of a fluid since its tag hung.

    Attributes:
        fluid: Its name.
        taken_back: The draining that hung the tag was corrected or disregarded.
        added: How much went in since it was drained, in ``unit``, or None.
        unit: The unit called last.
        level: The level called last, or None.
        settled: Whether nothing was added since.
    """

    fluid: str
    taken_back: bool = False
    added: ExactDecimal | None = None
    unit: str | None = None
    level: Literal["full", "low", "over"] | None = None
    level_needed: bool = False
    settled: bool = True


class Checked(Value):
    """What calls tell and do not tell before a start.

    Attributes:
        full: Fluids whose level was called full, with nothing added since.
        unknown: Fluids whose level is not known.
        cleared: Tags affirmed clear since the last start.
        steps_left: How many steps of the card are left.
    """

    full: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()
    cleared: tuple[str, ...] = ()
    steps_left: int = 0
