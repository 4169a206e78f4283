"""Everything that can happen in a job, as plain data: what the log keeps and state is made of.

Whoever speaks of an event names it by this package; its modules are only where each stands.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, TypeAdapter

from companion.job.events.afterwards import (
    Judgement,
    PhotoAdded,
    Reviewed,
    SignedOff,
    WorkOrderKept,
)
from companion.job.events.base import Correctable, Event, corrected_by
from companion.job.events.exchange import Answered, Asked, Heard, Rival, Said, Unsaid
from companion.job.events.facts import (
    AnyFact,
    Disregarded,
    FindingRecorded,
    FluidAction,
    FluidMoved,
    FollowUpRecorded,
    LevelRead,
    NoteKept,
    PartNeeded,
    PartUsed,
    ReadingRecorded,
    RecordedBy,
    SerialRecorded,
    Verdict,
    Window,
    WorkRecorded,
)
from companion.job.events.machine import (
    EarlierFact,
    MachineKnown,
    OfMachine,
    OtherJob,
    ToComeBackTo,
)
from companion.job.events.session import (
    EarlierReading,
    EarlierService,
    JobClosed,
    JobParked,
    Resumed,
    SessionOpened,
    SessionResumed,
    Standby,
    Trouble,
)
from companion.job.events.start import (
    EngineRunning,
    EngineStopped,
    HungBy,
    StartAffirmed,
    StartChecked,
    TagCleared,
    TagHung,
)
from companion.job.events.steps import (
    CautionSpoken,
    SkipReason,
    StepAnswered,
    StepBy,
    StepDone,
    StepEntered,
    StepReopened,
    StepRuled,
    StepSkipped,
)
from companion.job.events.timers import (
    ElsewhereAcknowledged,
    ElsewhereRang,
    TimerAcknowledged,
    TimerCancelled,
    TimerRang,
    TimerStarted,
)

__all__ = [
    "EVENT",
    "Answered",
    "AnyEvent",
    "AnyFact",
    "Asked",
    "CautionSpoken",
    "Correctable",
    "Disregarded",
    "EarlierFact",
    "EarlierReading",
    "EarlierService",
    "ElsewhereAcknowledged",
    "ElsewhereRang",
    "EngineRunning",
    "EngineStopped",
    "Event",
    "FindingRecorded",
    "FluidAction",
    "FluidMoved",
    "FollowUpRecorded",
    "Heard",
    "HungBy",
    "JobClosed",
    "JobParked",
    "Judgement",
    "LevelRead",
    "MachineKnown",
    "NoteKept",
    "OfMachine",
    "OtherJob",
    "PartNeeded",
    "PartUsed",
    "PhotoAdded",
    "ReadingRecorded",
    "RecordedBy",
    "Resumed",
    "Reviewed",
    "Rival",
    "Said",
    "SerialRecorded",
    "SessionOpened",
    "SessionResumed",
    "SignedOff",
    "SkipReason",
    "Standby",
    "StartAffirmed",
    "StartChecked",
    "StepAnswered",
    "StepBy",
    "StepDone",
    "StepEntered",
    "StepReopened",
    "StepRuled",
    "StepSkipped",
    "TagCleared",
    "TagHung",
    "TimerAcknowledged",
    "TimerCancelled",
    "TimerRang",
    "TimerStarted",
    "ToComeBackTo",
    "Trouble",
    "Unsaid",
    "Verdict",
    "Window",
    "WorkOrderKept",
    "WorkRecorded",
    "corrected_by",
]

AnyEvent = Annotated[
    SessionOpened
    | SessionResumed
    | JobParked
    | JobClosed
    | Standby
    | Resumed
    | Trouble
    | Heard
    | Said
    | Asked
    | Answered
    | ReadingRecorded
    | FluidMoved
    | LevelRead
    | TimerStarted
    | TimerRang
    | TimerAcknowledged
    | TimerCancelled
    | ElsewhereRang
    | ElsewhereAcknowledged
    | TagHung
    | TagCleared
    | StartChecked
    | StartAffirmed
    | EngineRunning
    | EngineStopped
    | StepEntered
    | StepDone
    | StepSkipped
    | StepReopened
    | StepAnswered
    | StepRuled
    | FindingRecorded
    | WorkRecorded
    | PartNeeded
    | PartUsed
    | FollowUpRecorded
    | MachineKnown
    | NoteKept
    | SerialRecorded
    | PhotoAdded
    | WorkOrderKept
    | Disregarded
    | CautionSpoken
    | Reviewed
    | SignedOff,
    Field(discriminator="kind"),
]
"""Any event; ``EVENT.validate_python`` reads one back."""


EVENT: TypeAdapter[AnyEvent] = TypeAdapter(AnyEvent)
