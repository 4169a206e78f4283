"""A session begins, is put aside and ends."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict

from companion.intent.call import ExactDecimal, Moment
from companion.job.events.base import Event
from companion.job.events.facts import Verdict


class EarlierReading(BaseModel):
    """What the machine last read of one measure before this session.

    Attributes:
        value: As it was called, in ``unit``.
        verdict: As it was judged then.
        at: When it was recorded.
        session: Name of the session that has it.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    measure: str
    value: ExactDecimal
    unit: str
    verdict: Verdict
    at: Moment
    session: str


class EarlierService(BaseModel):
    """When one item of the sheet's service intervals was last done before this session.

    Attributes:
        item: As the sheet names it, with ``work``.
        at: When.
        hours: Engine hours then; None where they were not called.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    item: str
    work: str
    at: Moment
    hours: ExactDecimal | None = None


class SessionOpened(Event):
    """First record of every log; keeps machine and card as they were, so that it stands alone.

    Attributes:
        air_temperature: What the shop expects, in degrees Celsius, or None.
        earlier: What the machine read last, one of each measure, from the shop's earlier sessions.
        serviced_before: When each item of its service intervals was last done in one of them.
        machine_name: What this very machine is called, where that is not the name of its sheet.
        serial: Its serial number, where it was given at take-in.
    """

    kind: Literal["session.opened"] = "session.opened"
    session: str
    machine: dict[str, Any] | None
    card: dict[str, Any] | None
    call_sign: str
    ounce: Literal["us", "imperial"]
    air_temperature: ExactDecimal | None = None
    software: str
    earlier: tuple[EarlierReading, ...] = ()
    serviced_before: tuple[EarlierService, ...] = ()
    machine_name: str | None = None
    serial: str | None = None


class SessionResumed(Event):
    """The program was started again on this log."""

    kind: Literal["session.resumed"] = "session.resumed"
    software: str


class JobParked(Event):
    """Put aside for hours or days; timers run on."""

    kind: Literal["job.parked"] = "job.parked"


class JobClosed(Event):
    """Finished.

    Attributes:
        instead: The session of another job of the same machine that is continued instead.
    """

    kind: Literal["job.closed"] = "job.closed"
    instead: str | None = None


class Standby(Event):
    """The companion stops answering until "resume"; timers still ring."""

    kind: Literal["standby"] = "standby"


class Resumed(Event):
    """Answering again after "stand by"."""

    kind: Literal["resumed"] = "resumed"


class Trouble(Event):
    """A device lost, a torn log line recovered, or the like.

    Attributes:
        left: The session folder in place of whose log this one goes on, as a path; None where it
            is another trouble.
    """

    kind: Literal["trouble"] = "trouble"
    what: str
    left: str | None = None
