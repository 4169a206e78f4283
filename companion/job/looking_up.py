"""Calls that the handbook answers, some of them about what was read on this job."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from fractions import Fraction

from companion.handbook.answer import HandbookAnswer
from companion.handbook.convert import plain, rounded
from companion.handbook.units import convert, spoken
from companion.intent import intents as it
from companion.intent.handbook_calls import USUAL_POLES
from companion.job import events as ev
from companion.job import fill, fluids
from companion.job.answers import GradeSaid, HandbookSaid, Nothing
from companion.job.cylinders import without_cylinder
from companion.job.judge import spec_of
from companion.job.running_specs import generator_of, governed_speed
from companion.job.state import State
from companion.job.state_values import Fact
from companion.job.turn import Turn

ENGINE_OIL = "oil"
"""The fluid of a sheet that "oil grade" is about."""

PLUGS = ("plug", "spark plug")
"""What a sheet may call the spark plug among its fasteners."""

WET_WITHIN = timedelta(hours=1)
"""How soon after the dry reading the wet one is called; a later one belongs to other work."""


def answer(turn: Turn, call: it.HandbookQuestion) -> None:
    """Look something up; what the handbook does not hold is answered in a sentence."""
    if isinstance(call, it.SourceAsk):
        source = turn.state.last_source
        if source is None:
            turn.answer(Nothing("What was said last has no source: it gave no figure."))
        else:
            turn.answer(HandbookSaid(f"Source: {source}.", source))
        return
    try:
        found = _look_up(turn.state, call)
    except ValueError as error:
        turn.answer(Nothing(str(error)))
        return
    turn.answer(_of_the_sheet(turn.state, call) or HandbookSaid(found.text, found.source))


def _of_the_sheet(state: State, call: it.HandbookQuestion) -> GradeSaid | HandbookSaid | None:
    """What the maker says instead, where the sheet has it."""
    if isinstance(call, it.OilAsk):
        return _grade_of_the_sheet(state, call)
    if isinstance(call, it.PlugTorqueAsk):
        return _plug_of_the_sheet(state)
    return None


def _plug_of_the_sheet(state: State) -> HandbookSaid | None:
    """The plug's torque on the sheet, if it has a figure."""
    sheet = state.sheet
    for spec in () if sheet is None else sheet.torque:
        if spec.fastener in PLUGS and (spec.low is not None or spec.high is not None):
            ends = dict.fromkeys(end for end in (spec.low, spec.high) if end is not None)
            figure = " to ".join(map(plain, ends))
            text = f"The sheet has {figure} {spoken(spec.unit, plural=True)} for the plug."
            return HandbookSaid(text, spec.source)
    return None


def _grade_of_the_sheet(state: State, call: it.OilAsk) -> GradeSaid | None:
    """The grade that the sheet has for a temperature; it counts before the usual one."""
    spec = fluids.spec_of(state, ENGINE_OIL)
    if spec is None:
        return None
    if not spec.grades:
        return None if spec.grade is None else GradeSaid(ENGINE_OIL, spec.grade)
    temperature = fill.Air(call.value, call.unit)
    found = fill.grade_at(spec, temperature)
    return None if found is None else GradeSaid(ENGINE_OIL, found.grade, temperature)


def _look_up(state: State, call: it.HandbookQuestion) -> HandbookAnswer:
    # Tables are read only when they are asked for.
    match call:
        case it.Convert():
            from companion.handbook.convert import convert_quantity

            return convert_quantity(call.value, call.unit, call.to, ounce=state.ounce)
        case it.TorqueAsk():
            from companion.handbook.torque import torque_for

            pitch = _fine(call) if call.series == "fine" else None
            return torque_for(call.size, call.unit, call.grade, call.condition, pitch)
        case it.WrenchAsk():
            from companion.handbook.wrench import wrench_for

            return wrench_for(call.size, call.unit, call.head)
        case it.PlugTorqueAsk():
            from companion.handbook.plug import plug_torque

            return plug_torque(call.size, call.seat or "gasket", call.head or "aluminum")
        case it.Mix():
            from companion.handbook.mix import mix_for

            return mix_for(call.ratio, call.value, call.unit, ounce=state.ounce)
        case it.DrillAsk():
            from companion.handbook.drill import drill_for

            return drill_for(call.size, call.unit, call.pitch)
        case it.OilAsk():
            from companion.handbook.oil import oil_for

            return oil_for(call.value, call.unit)
        case it.PulleyAsk():
            from companion.handbook.pulley import pulley_speeds

            return pulley_speeds(call.driver, call.driven, call.size_unit, call.value)
        case it.TipSpeedAsk():
            from companion.handbook.tip_speed import tip_speed

            return tip_speed(call.value, call.unit, call.rpm, governed_speed(state.sheet))
        case it.FrequencyAsk():
            from companion.handbook.frequency import frequency_at

            generator = generator_of(state.sheet)
            # Nobody says the usual two poles; where the sheet has more, those are meant.
            poles = call.poles if call.poles != USUAL_POLES else generator.poles or USUAL_POLES
            return frequency_at(call.value, poles, call.nominal or generator.nominal)
        case it.ChargeAsk():
            from companion.handbook.battery import charge_at

            battery = None if state.sheet is None else state.sheet.battery
            if battery is None:
                return charge_at(call.value, call.type)
            return charge_at(call.value, call.type or battery.type, int(battery.volts))
        case it.DisplacementAsk():
            from companion.handbook.displacement import displacement_of

            return displacement_of(call.bore, call.stroke, call.unit, call.cylinders)
        case it.AdviceAsk():
            return _leak_down(state, call) if call.measure == "leak down" else _compression(state)
    raise ValueError(f"The handbook has no answer to '{call.intent}'.")


def _fine(call: it.TorqueAsk) -> Fraction:
    from companion.handbook.thread import fine_pitch

    return fine_pitch(Fraction(call.size), call.unit)


def _leak_down(state: State, call: it.AdviceAsk) -> HandbookAnswer:
    from companion.handbook.leak_down import leak_down_suggests

    read = _readings(state, call.measure)[-1].event
    spec = spec_of(state.sheet, call.measure)
    limit = None if spec is None or spec.high is None else spec.high
    return leak_down_suggests(read.value, call.heard, limit)


def _compression(state: State) -> HandbookAnswer:
    """Advice on the last reading, or on the last two as dry and wet."""
    from companion.handbook.compression import compression_suggests

    readings = _readings(state, "compression")
    last = readings[-1]
    before = readings[-2] if len(readings) > 1 else None
    if before is not None and last.at - before.at > WET_WITHIN:
        before = None
    first, unit = (before or last).event, last.event.unit
    dry = (
        first.value if first.unit == unit else rounded(convert(first.value, first.unit, unit), unit)
    )
    spec = spec_of(state.sheet, "compression")
    ends = (None, None) if spec is None else (spec.low, spec.high)
    least, most = (
        None if spec is None or end is None else rounded(convert(end, spec.unit, unit), unit)
        for end in ends
    )
    wet = None if before is None else last.event.value
    return compression_suggests(dry, unit, wet, least, most)


def _readings(state: State, measure: str) -> Sequence[Fact[ev.ReadingRecorded]]:
    """What was read of a measure and still counts, in the order called.

    Raises:
        ValueError: If there is none; the message says so in one plain sentence.
    """
    readings = state.readings
    found = [
        readings.about(name) for name in readings.names if measure in (name, without_cylinder(name))
    ]
    if not found:
        raise ValueError(f"No {measure} recorded yet: call the reading first.")
    # Only the cylinder called last: readings of two cylinders are no dry and wet pair.
    return max(found, key=lambda facts: (facts[-1].place, facts[-1].seq))
