"""What the other sessions of the machine say of it."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from companion.intent.call import Moment
from companion.job.events.base import Event
from companion.job.events.facts import FindingRecorded, FluidMoved, LevelRead, WorkRecorded
from companion.job.events.start import TagCleared, TagHung

OfMachine = Annotated[
    WorkRecorded | FindingRecorded | FluidMoved | LevelRead | TagHung | TagCleared,
    Field(discriminator="kind"),
]
"""What stays with the machine when its job is over."""


class EarlierFact(BaseModel):
    """Something that another session of the machine has and that counts in this one too.

    Attributes:
        session: Name of that session.
        at: When it was called there.
        event: What.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    session: str
    at: Moment
    event: OfMachine


class OtherJob(BaseModel):
    """Another job of the same machine that is not closed.

    Attributes:
        session: Its name.
        title: Of its card, or empty.
        last: When its last record was written.
        parked: Whether it was parked; otherwise it was left open.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    session: str
    title: str
    last: Moment
    parked: bool


class ToComeBackTo(BaseModel):
    """A follow-up, or a part that is needed, from an earlier session and not seen to since.

    Attributes:
        part: What.
        count: How many are needed; 0 for a follow-up.
        at: When it was called.
        session: Name of that session.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    part: str
    count: int = 0
    at: Moment
    session: str


class MachineKnown(Event):
    """What the other sessions of this machine say of it now; takes the place of the one before.

    Attributes:
        facts: What counts in this session too, in order of time.
        unread: Names of sessions that are of this machine, or may be, and cannot be read.
        jobs: Its other jobs that are not closed, the latest first.
        open: Follow-ups and parts needed of its earlier sessions.
    """

    kind: Literal["machine.known"] = "machine.known"
    facts: tuple[EarlierFact, ...] = ()
    unread: tuple[str, ...] = ()
    jobs: tuple[OtherJob, ...] = ()
    open: tuple[ToComeBackTo, ...] = ()
