"""Calls and what was recorded of them, said back: the words a question or a readback is made of."""

from __future__ import annotations

from decimal import Decimal
from typing import Literal

from companion.handbook.battery import SAID
from companion.handbook.torque import grade_said
from companion.handbook.unit_table import UNITS
from companion.handbook.units import whose
from companion.intent import intents as it
from companion.job.cylinders import of_cylinder
from companion.job.lines import found, how_many, named, of_kind, spaced
from companion.speak.numbers import (
    fraction_words,
    number_words,
    read_back,
    read_back_before,
    read_back_duration,
    read_back_number,
)
from companion.speak.speakable import speakable

_ACTIONS = {
    "acknowledge": "roger",
    "tag.list": "read tags",
    "start.check": "clear to start",
    "step.done": "step done",
    "step.next": "next step",
    "step.back": "step back",
    "step.say": "say step",
    "steps.left": "what's left",
    "affirm": "affirm",
    "negative": "negative",
    "disregard": "disregard",
    "say.again": "say again",
    "say.source": "say source",
    "engine.running": "engine running",
    "engine.stopped": "engine stopped",
    "standby": "stand by",
    "resume": "resume",
    "job.park": "park job",
    "job.close": "close job",
}
"""Calls without a value, as they are called."""


def call_words(call: it.Intent, ounce: str = "us") -> str:
    """Say a call that is in doubt, so that "affirm" can only mean what it says.

    Args:
        call: Any intent.
        ounce: Which ounce the shop means; named, since the two differ.
    """
    match call:
        case it.Reading():
            measure = of_cylinder(call.measure, call.cylinder)
            return f"{measure}, {read_back(call.value, call.unit)}"
        case it.Fluid():
            of = f" of {call.fluid}" if call.fluid else ""
            return f"{call.action} {read_back(call.value, whose(call.unit, ounce))}{of}"
        case it.Level():
            return f"{call.fluid} level {call.level}"
        case it.FluidLeft():
            return f"how much more {call.fluid}" if call.fluid else "how much more"
        case it.FluidGrade():
            return f"{call.fluid} grade"
        case it.Correction():
            amount = (
                read_back_number(call.value)
                if call.unit is None
                else read_back(call.value, whose(call.unit, ounce))
            )
            return f"correction, {amount}"
        case it.TimerStart():
            length = "" if call.seconds is None else f", {read_back_duration(call.seconds)}"
            return f"start {named(call.name)}{length}"
        case it.StepSkip():
            return f"skip step{f', {call.reason}' if call.reason else ''}"
        case it.StepGo():
            return f"go to step {call.step.replace('-', ' ')}"
        case it.TimerLeft():
            return "time left" if call.name is None else f"time left on {named(call.name)}"
        case it.TimerCancel():
            return f"cancel {named(call.name)}"
        case it.TagHang():
            return f"tag {call.tag}"
        case it.TagClear():
            return f"clear tag {call.tag}"
        case it.Finding():
            return found_words(call.part, call.count, call.every, call.condition)
        case it.Work():
            return work_words(call.action, call.part, call.count, call.every)
        case it.Part():
            return count_words(
                call.part, call.count, "used" if call.intent == "part.used" else "need"
            )
        case it.FollowUp():
            return f"follow up {call.part}"
        case it.Note():
            what = call.intent
            return f"{what}, {speakable(call.text)}" if call.text else f"a {what}"
        case it.Serial():
            return speakable(f"{of_kind(call.machine)}serial number, {spaced(call.serial)}")
        case it.ReadBack():
            of_card = {"step parts": "parts for this step", "job parts": "parts for job"}
            return of_card.get(call.subject, f"read back {call.subject}")
        case it.SpecAsk():
            return f"spec for {call.measure}"
        case it.Convert():
            amount = read_back(call.value, whose(call.unit, ounce))
            return f"convert {amount} to {UNITS[whose(call.to, ounce)].plural}"
        case it.TorqueAsk():
            size = _size_words(call.size, call.unit)
            series = " fine" if call.series == "fine" else ""
            return (
                f"torque for {size}{series} {speakable(grade_said(call.grade))}, {call.condition}"
            )
        case it.WrenchAsk():
            heads = {"usual": "", "flange": " flange", "small": " small head"}
            return f"wrench for {_size_words(call.size, call.unit)}{heads[call.head]} bolt"
        case it.PlugTorqueAsk():
            seat = "" if call.seat is None else f", {call.seat} seat"
            head = "" if call.head is None else f", {call.head}"
            return f"torque for {_size_words(call.size, call.unit)} plug{seat}{head}"
        case it.Mix():
            ratio = read_back_before(call.ratio, "to one")
            return f"mix {ratio}, for {read_back(call.value, whose(call.unit, ounce))}"
        case it.DrillAsk():
            return f"drill for {_thread_words(call.size, call.unit, call.pitch)}"
        case it.OilAsk():
            return f"oil grade for {read_back(call.value, call.unit)}"
        case it.PulleyAsk():
            driver = read_back(call.driver, call.size_unit)
            driven = read_back(call.driven, call.size_unit)
            return f"pulley {driver}, to {driven}, at {read_back_number(call.value)}"
        case it.TipSpeedAsk():
            length = read_back(call.value, call.unit)
            return f"tip speed for {length}, at {read_back_number(call.rpm)}"
        case it.FrequencyAsk():
            poles = "" if call.poles == 2 else f", on {number_words(Decimal(call.poles))} poles"
            mains = "" if not call.nominal else f", for {number_words(Decimal(call.nominal))} hertz"
            return f"frequency at {read_back_number(call.value)}{poles}{mains}"
        case it.ChargeAsk():
            built = "" if call.type is None else f", {SAID[call.type]}"
            return f"charge for {read_back(call.value, call.unit)}{built}"
        case it.DisplacementAsk():
            stroke = read_back(call.stroke, call.unit)
            count = "" if call.cylinders == 1 else ", two cylinders"
            return f"displacement {read_back_number(call.bore)}, by {stroke}{count}"
        case it.AdviceAsk():
            where = "" if call.heard is None else f" at {call.heard}"
            return f"advice on {call.measure}{where}"
    return _ACTIONS.get(call.intent, speakable(call.intent.replace(".", " ")))


def work_words(action: str, part: str, count: int, every: bool) -> str:
    """Say work done: "greased axle", "grease point, six greased", "all engine bolts tightened".

    Args:
        action: What was done.
        part: To which part.
        count: To how many.
        every: Whether to all of them.
    """
    if count == 1 and not every:
        return f"{action} {part}"
    return _several_words(part, count, every, action)


def found_words(part: str, count: int, every: bool, condition: str) -> str:
    """Say what was found: "shear pin broken", "blade bolt, three loose", "no spark".

    Args:
        part: Its name.
        count: How many.
        every: Whether all of them.
        condition: How they are.
    """
    if condition == "none":
        return found(part, condition)
    return _several_words(part, count, every, condition)


def _several_words(part: str, count: int, every: bool, what: str) -> str:
    """Say what is so of one part, of several or of all of them: "blade bolt, three loose"."""
    if every:
        return f"{how_many(part, count, every=True)} {what}"
    return f"{part} {what}" if count == 1 else f"{part}, {read_back_before(Decimal(count), what)}"


def count_words(part: str, count: int, what: Literal["need", "used"]) -> str:
    """Say how many of a part: "shear pin, two needed".

    The count comes after the name, so that no plural has to be guessed.

    Args:
        part: Its name.
        count: How many.
        what: Whether they are needed or were used.
    """
    done = {"need": "needed", "used": "used"}[what]
    return f"{part}, {read_back_before(Decimal(count), done)}"


def _size_words(size: Decimal, unit: str) -> str:
    if unit == "millimeter":
        return f"m {read_back_number(size)}"
    return f"{fraction_words(size) or read_back_number(size)} inch"


def _thread_words(size: Decimal, unit: str, pitch: Decimal | None) -> str:
    """Say a thread as it is called: "three eighths, sixteen", "ten, twenty four", "m eight"."""
    if unit == "millimeter":
        return _size_words(size, unit)
    number = (size * 1000 - 60) / 13
    fraction = fraction_words(size)
    words = fraction if fraction is not None else number_words(number.to_integral_value())
    return words if pitch is None else f"{words}, {read_back_number(pitch)}"
