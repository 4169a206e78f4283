"""Every intent a call can carry, as section "calls" of the README lists them.

The models are the contract: ``Intent`` as JSON is what ``companion understand`` and ``companion hear`` print and
what the log keeps. Values are exact decimals, written as strings; names are singular and lower case.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter


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


class Quantity(Model):
    """A number with a unit, as spoken.

    Attributes:
        value: The exact decimal as spoken ("three eighths" is 0.375).
        unit: A unit's name from ``companion.handbook.units``, such as ``thou`` or ``foot pound``.
        si: The same in SI.
    """

    value: Decimal
    unit: str
    si: SI


class Reading(Quantity):
    """A measurement called out: "gap thirty thou"."""

    intent: Literal["reading"] = "reading"
    measure: str


class Fluid(Quantity):
    """Fluid drained or added; ``fluid`` is None for "added one more ounce" (the last one named is meant)."""

    intent: Literal["fluid"] = "fluid"
    action: Literal["added", "drained"]
    fluid: str | None


class Level(Model):
    """A level read off a dipstick or glass: "oil level full"."""

    intent: Literal["level"] = "level"
    fluid: str
    level: Literal["full", "low", "over"]


class TimerStart(Model):
    """Start a timer; ``name`` is "timer" when none was called."""

    intent: Literal["timer.start"] = "timer.start"
    name: str
    seconds: float


class TimerLeft(Model):
    """Ask for the time left, of one timer or of all (``name`` None)."""

    intent: Literal["timer.left"] = "timer.left"
    name: str | None = None


class TimerCancel(Model):
    """Stop a timer; ``name`` is "timer" when none was called."""

    intent: Literal["timer.cancel"] = "timer.cancel"
    name: str


class Acknowledge(Model):
    """ "Roger": a ringing timer, or whatever was spoken last, is acknowledged."""

    intent: Literal["acknowledge"] = "acknowledge"


class TagHang(Model):
    """Hang a "do not start" tag."""

    intent: Literal["tag.hang"] = "tag.hang"
    tag: str


class TagClear(Model):
    """Ask to take a tag down; takes effect only after a readback and "affirm"."""

    intent: Literal["tag.clear"] = "tag.clear"
    tag: str


class TagList(Model):
    """Have the hanging tags read."""

    intent: Literal["tag.list"] = "tag.list"


class StartCheck(Model):
    """ "Clear to start?" """

    intent: Literal["start.check"] = "start.check"


class Step(Model):
    """Move along the job card, or hear the step again."""

    intent: Literal["step.done", "step.next", "step.back", "step.skip", "step.say"]


class Finding(Model):
    """Something wrong with a part: "shear pin broken"."""

    intent: Literal["finding"] = "finding"
    part: str
    condition: str


class Work(Model):
    """Something done to a part: "greased auger shaft" (``action`` is the past participle)."""

    intent: Literal["work"] = "work"
    action: str
    part: str


class Part(Model):
    """A part needed or used."""

    intent: Literal["part.need", "part.used"]
    part: str
    count: int


class FollowUp(Model):
    """A part to come back to."""

    intent: Literal["followup"] = "followup"
    part: str


class Note(Model):
    """Free speech; ``text`` is a draft transcript when it came by voice, the words themselves when typed."""

    intent: Literal["note"] = "note"
    text: str | None = None


class Correction(Model):
    """Put another value in place of the last one recorded.

    ``unit`` and ``si`` are None when only a number was called: the unit of the corrected record holds.
    """

    intent: Literal["correction"] = "correction"
    value: Decimal
    unit: str | None = None
    si: SI | None = None


class Plain(Model):
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


class ReadBack(Model):
    """Have something recorded read back: a measure or fluid by name, or one of the lists."""

    intent: Literal["readback"] = "readback"
    subject: str
    """A measure's or fluid's name, or ``parts``, ``steps``, ``findings``, ``work``, ``follow ups``, ``timers``,
    ``fluids``, ``readings``."""


class SpecAsk(Model):
    """Ask for the spec of a measure."""

    intent: Literal["spec"] = "spec"
    measure: str


class Convert(Quantity):
    """Ask for a quantity in another unit."""

    intent: Literal["convert"] = "convert"
    to: str


class TorqueAsk(Model):
    """Ask for the usual tightening torque of a bolt.

    Attributes:
        size: Nominal diameter: an inch fraction as a decimal string with unit ``inch``, or millimetres.
        unit: ``inch`` or ``millimeter``.
        grade: ``grade 5``, ``class 8.8`` and so on.
        condition: How the thread is.
    """

    intent: Literal["torque"] = "torque"
    size: Decimal
    unit: Literal["inch", "millimeter"]
    grade: str
    condition: Literal["dry", "oiled", "anti seize"] = "dry"


class WrenchAsk(Model):
    """Ask which wrench fits a bolt."""

    intent: Literal["wrench"] = "wrench"
    size: Decimal
    unit: Literal["inch", "millimeter"]


class Mix(Quantity):
    """Ask for the oil of a two-stroke mix: ``ratio`` to one, for this volume of fuel."""

    intent: Literal["mix"] = "mix"
    ratio: Decimal


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
