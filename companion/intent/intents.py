"""Every intent a call can carry, as section "calls" of the README lists them.

The models are the contract: ``Intent`` as JSON is what ``companion understand`` and ``companion
hear`` print and what the log keeps. Values are exact decimals, written as strings; names are
singular and lower case.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, PlainSerializer, TypeAdapter


def _plainly(value: Decimal) -> str:
    return format(value, "f")


ExactDecimal = Annotated[
    Decimal, PlainSerializer(_plainly, return_type=str, when_used="json-unless-none")
]
"""A decimal that JSON holds as a string with every digit as spoken and never an exponent."""


class Model(BaseModel):
    """Frozen, and refuses keys it does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class SI(Model):
    """A value in the coherent unit of its dimension.

    Attributes:
        value: As a float: for comparison and plotting; the exact value stands beside it.
        unit: One of ``m m3 Pa N.m K V ohm s 1/min 1``.
    """

    value: float
    unit: Literal["m", "m3", "Pa", "N.m", "K", "V", "ohm", "s", "1/min", "1"]


class Call(Model):
    """What every intent has: its name, the first key in JSON."""

    intent: str


class Quantity(Call):
    """A number with a unit, as spoken.

    Attributes:
        value: The exact decimal as spoken ("three eighths" is 0.375).
        unit: A unit's name from ``companion.handbook.units``, such as ``thou`` or ``foot pound``.
        si: The same in SI.
    """

    value: ExactDecimal
    unit: str
    si: SI


class Reading(Quantity):
    """A measurement called out: "gap thirty thou"."""

    intent: Literal["reading"] = "reading"
    measure: str


class Fluid(Quantity):
    """Fluid drained or added.

    ``fluid`` is None for "added one more ounce": the last one named is meant.
    """

    intent: Literal["fluid"] = "fluid"
    action: Literal["added", "drained"]
    fluid: str | None


class Level(Call):
    """A level read off a dipstick or glass: "oil level full"."""

    intent: Literal["level"] = "level"
    fluid: str
    level: Literal["full", "low", "over"]


class TimerStart(Call):
    """Start a timer; ``name`` is "timer" when none was called."""

    intent: Literal["timer.start"] = "timer.start"
    name: str
    seconds: float


class TimerLeft(Call):
    """Ask for the time left, of one timer or of all (``name`` None)."""

    intent: Literal["timer.left"] = "timer.left"
    name: str | None = None


class TimerCancel(Call):
    """Stop a timer; ``name`` is "timer" when none was called."""

    intent: Literal["timer.cancel"] = "timer.cancel"
    name: str


class Acknowledge(Call):
    """ "Roger": a ringing timer, or whatever was spoken last, is acknowledged."""

    intent: Literal["acknowledge"] = "acknowledge"


class TagHang(Call):
    """Hang a "do not start" tag."""

    intent: Literal["tag.hang"] = "tag.hang"
    tag: str


class TagClear(Call):
    """Ask to take a tag down; takes effect only after a readback and "affirm"."""

    intent: Literal["tag.clear"] = "tag.clear"
    tag: str


class TagList(Call):
    """Have the hanging tags read."""

    intent: Literal["tag.list"] = "tag.list"


class StartCheck(Call):
    """ "Clear to start?" """

    intent: Literal["start.check"] = "start.check"


class Step(Call):
    """Move along the job card, or hear the step again."""

    intent: Literal["step.done", "step.next", "step.back", "step.skip", "step.say"]


class Finding(Call):
    """Something wrong with a part: "shear pin broken"."""

    intent: Literal["finding"] = "finding"
    part: str
    condition: str


class Work(Call):
    """Something done to a part: "greased auger shaft" (``action`` is the past participle)."""

    intent: Literal["work"] = "work"
    action: str
    part: str


class Part(Call):
    """A part needed or used."""

    intent: Literal["part.need", "part.used"]
    part: str
    count: int


class FollowUp(Call):
    """A part to come back to."""

    intent: Literal["followup"] = "followup"
    part: str


class Note(Call):
    """Free speech; ``text`` is a draft transcript when it came by voice, the words when typed."""

    intent: Literal["note"] = "note"
    text: str | None = None


class Correction(Call):
    """Put another value in place of the last one recorded.

    ``unit`` and ``si`` are None when only a number was called: the unit of the corrected record
    holds.
    """

    intent: Literal["correction"] = "correction"
    value: ExactDecimal
    unit: str | None = None
    si: SI | None = None


class Plain(Call):
    """An intent with nothing more to say."""

    intent: Literal[
        "disregard",
        "affirm",
        "negative",
        "say.again",
        "engine.running",
        "engine.stopped",
        "standby",
        "resume",
        "job.park",
        "job.close",
    ]


class ReadBack(Call):
    """Have something recorded read back: a measure or fluid by name, or one of the lists."""

    intent: Literal["readback"] = "readback"
    subject: str
    """A measure's or fluid's name, or ``parts``, ``steps``, ``findings``, ``work``, ``follow ups``,
    ``timers``, ``fluids``, ``readings``."""


class SpecAsk(Call):
    """Ask for the spec of a measure."""

    intent: Literal["spec"] = "spec"
    measure: str


class Convert(Quantity):
    """Ask for a quantity in another unit."""

    intent: Literal["convert"] = "convert"
    to: str


class TorqueAsk(Call):
    """Ask for the usual tightening torque of a bolt.

    Attributes:
        size: Nominal diameter in ``unit``: a fraction of an inch as a decimal, or millimeters.
        unit: ``inch`` or ``millimeter``.
        grade: ``grade 5``, ``class 8.8`` and so on.
        condition: How the thread is.
    """

    intent: Literal["torque"] = "torque"
    size: ExactDecimal
    unit: Literal["inch", "millimeter"]
    grade: str
    condition: Literal["dry", "oiled", "anti seize"] = "dry"


class WrenchAsk(Call):
    """Ask which wrench fits a bolt."""

    intent: Literal["wrench"] = "wrench"
    size: ExactDecimal
    unit: Literal["inch", "millimeter"]


class Mix(Quantity):
    """Ask for the oil of a two-stroke mix: ``ratio`` to one, for this volume of fuel."""

    intent: Literal["mix"] = "mix"
    ratio: ExactDecimal


Intent = Annotated[
    Reading
    | Fluid
    | Level
    | TimerStart
    | TimerLeft
    | TimerCancel
    | Acknowledge
    | TagHang
    | TagClear
    | TagList
    | StartCheck
    | Step
    | Finding
    | Work
    | Part
    | FollowUp
    | Note
    | Correction
    | Plain
    | ReadBack
    | SpecAsk
    | Convert
    | TorqueAsk
    | WrenchAsk
    | Mix,
    Field(discriminator="intent"),
]
"""Any intent; ``INTENT.validate_python`` reads one back."""

INTENT: TypeAdapter[Intent] = TypeAdapter(Intent)
