"""What a call tells: readings, fluids, findings, work, parts, notes; and what no longer counts."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict

from companion.intent.call import SI, ExactDecimal
from companion.job.events.base import Correctable, Event
from companion.job.remark import Remark


class Window(BaseModel):
    """What the spec sheet wants of a reading, in the sheet's unit; either end may be open."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    low: ExactDecimal | None = None
    high: ExactDecimal | None = None
    unit: str
    source: str


Verdict = Literal["in", "low", "high", "unknown"]
"""``unknown``: the sheet gives no figure."""


class ReadingRecorded(Correctable):
    """A reading with its verdict.

    Attributes:
        beyond: How far outside the window, in the spoken unit, positive; None when in or unknown.
        remarks: What else was worth saying of it: how it compares, and whether the engine was as
            warm or cold as the sheet wants.
    """

    kind: Literal["reading"] = "reading"
    measure: str
    value: ExactDecimal
    unit: str
    si: SI
    verdict: Verdict
    window: Window | None = None
    beyond: ExactDecimal | None = None
    remarks: tuple[Remark, ...] = ()


FluidAction = Literal["added", "drained"]


class FluidMoved(Correctable):
    """Fluid drained or added."""

    kind: Literal["fluid"] = "fluid"
    action: FluidAction
    fluid: str
    value: ExactDecimal
    unit: str
    si: SI


class LevelRead(Correctable):
    """A level read."""

    kind: Literal["level"] = "level"
    fluid: str
    level: Literal["full", "low", "over"]


RecordedBy = Literal["voice", "step"]
"""What brings a finding or work: a call, or a step of the card that was called done or answered."""


class FindingRecorded(Correctable):
    """Something wrong with a part, or with so many of them.

    Attributes:
        every: Several were called and no number: all of them.
        by: A call, or the answer to what a step asks.
    """

    kind: Literal["finding"] = "finding"
    part: str
    condition: str
    count: int = 1
    every: bool = False
    by: RecordedBy = "voice"


class WorkRecorded(Correctable):
    """Something done to a part, or to so many of them.

    Attributes:
        every: Several were called and no number: all of them.
        by: A call, or a step of the card that was called done.
    """

    kind: Literal["work"] = "work"
    action: str
    part: str
    count: int = 1
    every: bool = False
    by: RecordedBy = "voice"


class PartNeeded(Correctable):
    """To buy."""

    kind: Literal["part.needed"] = "part.needed"
    part: str
    count: int


class PartUsed(Correctable):
    """Taken from stock and fitted."""

    kind: Literal["part.used"] = "part.used"
    part: str
    count: int


class FollowUpRecorded(Correctable):
    """Still not right: to come back to."""

    kind: Literal["followup"] = "followup"
    part: str


class NoteKept(Correctable):
    """A spoken note; ``draft`` marks a transcript that nobody has read.

    Attributes:
        about: ``complaint``: what the customer complains of.
        clip_sha256: As in ``Heard``.
    """

    kind: Literal["note"] = "note"
    about: Literal["note", "complaint"] = "note"
    text: str | None
    draft: bool
    clip: str | None = None
    clip_sha256: str | None = None


class SerialRecorded(Correctable):
    """The machine's serial number, as it was spelled or typed.

    Attributes:
        serial: In capitals.
        machine: What sort of machine it is, where that was called with it: ``mower``.
    """

    kind: Literal["serial"] = "serial"
    serial: str
    machine: str | None = None


AnyFact = (
    ReadingRecorded
    | FluidMoved
    | LevelRead
    | FindingRecorded
    | WorkRecorded
    | PartNeeded
    | PartUsed
    | FollowUpRecorded
    | NoteKept
    | SerialRecorded
)
"""What a call may turn out to have told."""


class Disregarded(Event):
    """An earlier record is not to count; it stays in the log.

    Attributes:
        record: Its number.
        restores: Number of the record that counts again, where the one set aside had been a
            correction.
    """

    kind: Literal["disregarded"] = "disregarded"
    record: int
    restores: int | None = None
