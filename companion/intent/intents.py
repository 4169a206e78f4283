"""Every intent a call can carry, as "What you can call" of the manual lists them.

The models are the contract: ``Intent`` as JSON is what ``companion understand`` and ``companion
hear`` print and what the log keeps. Values are exact decimals, written as strings; names are
singular and lower case.
"""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field, TypeAdapter

from companion.intent.call import SI as SI
from companion.intent.call import Call, PlainlyWritten
from companion.intent.call import ExactDecimal as ExactDecimal
from companion.intent.call import Quantity as Quantity
from companion.intent.handbook_calls import AdviceAsk as AdviceAsk
from companion.intent.handbook_calls import ChargeAsk as ChargeAsk
from companion.intent.handbook_calls import Convert as Convert
from companion.intent.handbook_calls import DisplacementAsk as DisplacementAsk
from companion.intent.handbook_calls import DrillAsk as DrillAsk
from companion.intent.handbook_calls import FrequencyAsk as FrequencyAsk
from companion.intent.handbook_calls import HandbookCall
from companion.intent.handbook_calls import HandbookQuestion as HandbookQuestion
from companion.intent.handbook_calls import Mix as Mix
from companion.intent.handbook_calls import OilAsk as OilAsk
from companion.intent.handbook_calls import PlugTorqueAsk as PlugTorqueAsk
from companion.intent.handbook_calls import PulleyAsk as PulleyAsk
from companion.intent.handbook_calls import SourceAsk as SourceAsk
from companion.intent.handbook_calls import TipSpeedAsk as TipSpeedAsk
from companion.intent.handbook_calls import TorqueAsk as TorqueAsk
from companion.intent.handbook_calls import WrenchAsk as WrenchAsk


class Reading(Quantity, PlainlyWritten):
    """A measurement called out: "gap thirty thou".

    ``cylinder`` is which one was called, if any: "cylinder two compression ninety p s i".
    """

    intent: Literal["reading"] = "reading"
    measure: str
    cylinder: int | None = None
    unsaid: ClassVar[dict[str, Any]] = {"cylinder": None}


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
    """Start a timer; ``name`` is "timer" when none was called.

    ``seconds`` is None for a named timer with no length called: the usual one is meant.
    """

    intent: Literal["timer.start"] = "timer.start"
    name: str
    seconds: float | None = None


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

    intent: Literal["step.done", "step.next", "step.back", "step.say"]


class StepSkip(PlainlyWritten):
    """Pass a step by, with a reason or without."""

    intent: Literal["step.skip"] = "step.skip"
    reason: Literal["no parts", "not needed", "later"] | None = None
    unsaid: ClassVar[dict[str, Any]] = {"reason": None}


class StepGo(Call):
    """Go to a step by its name on the card."""

    intent: Literal["step.go"] = "step.go"
    step: str


class StepsLeft(Call):
    """Ask what is left of the card."""

    intent: Literal["steps.left"] = "steps.left"


class Finding(PlainlyWritten):
    """Something wrong with a part: "shear pin broken".

    ``count`` is how many of them were called; 1 where no number was. ``every`` is true where
    several were called without a number ("blade bolts loose"): all of them are meant.
    """

    intent: Literal["finding"] = "finding"
    part: str
    condition: str
    count: int = 1
    every: bool = False
    unsaid: ClassVar[dict[str, Any]] = {"count": 1, "every": False}


class Work(PlainlyWritten):
    """Something done to a part: "greased auger shaft" (``action`` is the past participle).

    ``count`` is how many of them were called; 1 where no number was. ``every`` is true where
    several were called without a number ("tightened engine bolts"): all of them are meant.
    """

    intent: Literal["work"] = "work"
    action: str
    part: str
    count: int = 1
    every: bool = False
    unsaid: ClassVar[dict[str, Any]] = {"count": 1, "every": False}


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
    """Free speech: a note, or what the customer complains of.

    ``text`` is a draft transcript when it came by voice, the words when typed.
    """

    intent: Literal["note", "complaint"] = "note"
    text: str | None = None


class Serial(PlainlyWritten):
    """The machine's serial number, in capitals: "serial number q t four four one seven".

    ``machine`` is what it is, where that was said: "mower serial number ...".
    """

    unsaid: ClassVar[dict[str, Any]] = {"machine": None}

    intent: Literal["serial"] = "serial"
    serial: Annotated[str, Field(min_length=1)]
    machine: str | None = None


class Help(Call):
    """Ask what can be said now."""

    intent: Literal["help"] = "help"


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
    ``timers``, ``fluids``, ``readings``, ``serial number``, ``step parts``, ``job parts``."""


class SpecAsk(Call):
    """Ask for the spec of a measure."""

    intent: Literal["spec"] = "spec"
    measure: str


class FluidLeft(Call):
    """Ask how much more of a fluid goes in; ``fluid`` None is the one named last."""

    intent: Literal["fluid.left"] = "fluid.left"
    fluid: str | None = None


class FluidGrade(Call):
    """Ask which grade of a fluid the sheet wants."""

    intent: Literal["fluid.grade"] = "fluid.grade"
    fluid: str


Intent = Annotated[
    Reading
    | Fluid
    | Level
    | FluidLeft
    | FluidGrade
    | TimerStart
    | TimerLeft
    | TimerCancel
    | Acknowledge
    | TagHang
    | TagClear
    | TagList
    | StartCheck
    | Step
    | StepSkip
    | StepGo
    | StepsLeft
    | Finding
    | Work
    | Part
    | FollowUp
    | Note
    | Serial
    | Help
    | Correction
    | Plain
    | ReadBack
    | SpecAsk
    | HandbookCall,
    Field(discriminator="intent"),
]
"""Any intent; ``INTENT.validate_python`` reads one back."""

INTENT: TypeAdapter[Intent] = TypeAdapter(Intent)
