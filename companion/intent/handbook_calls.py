"""The intents of calls that the handbook answers."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

from companion.intent.call import Call, ExactDecimal, PlainlyWritten, Quantity

SizeUnit = Literal["inch", "millimeter"]


USUAL_POLES = 2
"""Of the alternator of a portable set (common practice)."""


class HandbookQuestion(Call):
    """A call that the handbook answers; it changes nothing."""


class Convert(Quantity, HandbookQuestion):
    """Ask for a quantity in another unit."""

    intent: Literal["convert"] = "convert"
    to: str


class TorqueAsk(HandbookQuestion):
    """Ask for the usual tightening torque of a bolt.

    Attributes:
        size: Nominal diameter in ``unit``: a fraction of an inch as a decimal, or millimeters.
        unit: ``inch`` or ``millimeter``.
        grade: ``grade 5``, ``class 8.8``, ``A2-70`` and so on.
        condition: How the thread is.
        series: Coarse where nothing was said.
    """

    intent: Literal["torque"] = "torque"
    size: ExactDecimal
    unit: SizeUnit
    grade: str
    condition: Literal["dry", "oiled", "anti seize"] = "dry"
    series: Literal["coarse", "fine"] = "coarse"


class WrenchAsk(PlainlyWritten, HandbookQuestion):
    """Ask which wrench fits a bolt.

    Attributes:
        size: Nominal diameter in ``unit``.
        unit: ``inch`` or ``millimeter``.
        head: Of the bolt.
    """

    unsaid: ClassVar[dict[str, Any]] = {"head": "usual"}

    intent: Literal["wrench"] = "wrench"
    size: ExactDecimal
    unit: SizeUnit
    head: Literal["usual", "flange", "small"] = "usual"


class PlugTorqueAsk(PlainlyWritten, HandbookQuestion):
    """Ask for the torque of a spark plug.

    Attributes:
        size: Diameter of its thread, in ``unit``.
        unit: Always ``millimeter``.
        seat: None if nothing was said.
        head: Metal of the head; None if nothing was said.
    """

    unsaid: ClassVar[dict[str, Any]] = {"seat": None, "head": None}

    intent: Literal["plug.torque"] = "plug.torque"
    size: ExactDecimal
    unit: SizeUnit = "millimeter"
    seat: Literal["gasket", "taper"] | None = None
    head: Literal["aluminum", "cast iron"] | None = None


class Mix(Quantity, HandbookQuestion):
    """Ask for the oil of a two-stroke mix: ``ratio`` to one, for this volume of fuel."""

    intent: Literal["mix"] = "mix"
    ratio: ExactDecimal


class DrillAsk(HandbookQuestion):
    """Ask which drill a tap needs.

    Attributes:
        size: Nominal diameter in ``unit``.
        unit: ``inch`` or ``millimeter``.
        pitch: Threads per inch, or pitch in millimeters; None for the coarse thread.
    """

    intent: Literal["drill"] = "drill"
    size: ExactDecimal
    unit: SizeUnit
    pitch: ExactDecimal | None = None


class OilAsk(Quantity, HandbookQuestion):
    """Ask for the oil grade at a temperature."""

    intent: Literal["oil.grade"] = "oil.grade"


class PulleyAsk(Quantity, HandbookQuestion):
    """Ask how fast a driven pulley turns; the quantity is the driving pulley's speed.

    Attributes:
        driver: Diameter of the driving pulley, in ``size_unit``.
        driven: Diameter of the driven pulley, in ``size_unit``.
        size_unit: ``inch`` or ``millimeter``.
    """

    intent: Literal["pulley"] = "pulley"
    driver: ExactDecimal
    driven: ExactDecimal
    size_unit: SizeUnit


class TipSpeedAsk(Quantity, HandbookQuestion):
    """Ask how fast a blade's tips run; the quantity is its length from tip to tip.

    Attributes:
        rpm: Of the blade.
    """

    intent: Literal["tip.speed"] = "tip.speed"
    rpm: ExactDecimal


class FrequencyAsk(PlainlyWritten, Quantity, HandbookQuestion):
    """Ask for a generator's frequency at a speed of its shaft.

    Attributes:
        poles: Of the alternator; the usual two also where nothing was said, and the sheet decides.
        nominal: What the set is for, in hertz; None if nothing was said.
    """

    unsaid: ClassVar[dict[str, Any]] = {"nominal": None}

    intent: Literal["frequency"] = "frequency"
    poles: int = USUAL_POLES
    nominal: int | None = None


class ChargeAsk(PlainlyWritten, Quantity, HandbookQuestion):
    """Ask how full a battery is at these volts at rest.

    Attributes:
        type: How it is built; None if nothing was said.
    """

    unsaid: ClassVar[dict[str, Any]] = {"type": None}

    intent: Literal["charge"] = "charge"
    type: Literal["flooded lead acid", "absorbed glass mat", "gel", "lithium"] | None = None


class DisplacementAsk(HandbookQuestion):
    """Ask for an engine's displacement.

    Attributes:
        bore: In ``unit``.
        stroke: In ``unit``.
        unit: ``inch`` or ``millimeter``.
        cylinders: How many.
    """

    intent: Literal["displacement"] = "displacement"
    bore: ExactDecimal
    stroke: ExactDecimal
    unit: SizeUnit
    cylinders: int = 1


class AdviceAsk(HandbookQuestion):
    """Ask what the last readings of a measure suggest.

    Attributes:
        measure: What was read.
        heard: Where air is heard in a leak-down test; None if nothing was said.
    """

    intent: Literal["advice"] = "advice"
    measure: Literal["compression", "leak down"]
    heard: Literal["intake", "exhaust", "crankcase"] | None = None


class SourceAsk(HandbookQuestion):
    """Ask where the figures of the last answer are from."""

    intent: Literal["say.source"] = "say.source"


HandbookCall = (
    Convert
    | TorqueAsk
    | WrenchAsk
    | PlugTorqueAsk
    | Mix
    | DrillAsk
    | OilAsk
    | PulleyAsk
    | TipSpeedAsk
    | FrequencyAsk
    | ChargeAsk
    | DisplacementAsk
    | AdviceAsk
    | SourceAsk
)
"""Any of them."""
