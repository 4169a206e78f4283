"""What is called out at the bench: readings, fluids, levels, findings, work, parts, notes."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from companion.handbook.units import UnitsDoNotFit, spoken
from companion.intent import intents as it
from companion.job import events as ev
from companion.job import fluids, gate, steps
from companion.job.answers import DrainedAgain, Nothing, Ticked
from companion.job.compare import remarks
from companion.job.cylinders import of_cylinder
from companion.job.days_apart import days_between
from companion.job.growing import CannotBe, cannot_be
from companion.job.judge import judge, spec_of, window_of
from companion.job.lines import amount
from companion.job.state import State
from companion.job.turn import Turn


def reading(
    turn: Turn, call: it.Reading, *, corrects: int | None = None, affirmed: bool = False
) -> None:
    """Judge and record a reading."""
    name = of_cylinder(call.measure, call.cylinder)
    measure(turn, name, call.value, call.unit, call.si, corrects=corrects, affirmed=affirmed)


def measure(
    turn: Turn,
    name: str,
    value: Decimal,
    unit: str,
    si: it.SI,
    *,
    corrects: int | None = None,
    affirmed: bool = False,
) -> None:
    """Judge and record a value of a measure, or ask about one that cannot be.

    Args:
        turn: The turn.
        name: The measure.
        value: In ``unit``.
        unit: As called.
        si: The same in SI.
        corrects: Number of the reading in whose place it stands.
        affirmed: Whether it was asked about, and is so.
    """
    odd = None if affirmed else cannot_be(turn.state, name, value, unit, turn.at, corrects=corrects)
    if odd is not None:
        called = it.Reading(measure=name, value=value, unit=unit, si=si)
        turn.record(
            ev.Asked(
                about="cannot-be",
                candidates=(called,),
                record=corrects,
                meaning=_why_not(name, odd),
            )
        )
        return
    spec = spec_of(turn.state.sheet, name)
    window = window_of(spec)
    if window is None:
        window = steps.window_on_card(turn.state, name)
    try:
        judgement = judge(value, unit, window, ounce=turn.state.ounce)
    except UnitsDoNotFit:
        wanted = spoken(window.unit, plural=True) if window is not None else "another unit"
        turn.answer(Nothing(f"The sheet has {name} in {wanted}: call it in a unit that fits."))
        return
    event = ev.ReadingRecorded(
        measure=name,
        value=value,
        unit=unit,
        si=si,
        verdict=judgement.verdict,
        window=judgement.window,
        beyond=judgement.beyond,
        corrects=corrects,
        remarks=remarks(
            turn.state,
            name,
            value,
            unit,
            judgement=judgement,
            spec=spec,
            at=turn.at,
            corrects=corrects,
        ),
    )
    turn.record(event)
    _tick(turn, event)


def fluid(turn: Turn, call: it.Fluid) -> None:
    """Record fluid drained or added; without a name the last one named is meant."""
    name = call.fluid or fluids.last_named(turn.state)
    if name is None:
        turn.answer(Nothing("Which fluid? Call it again with its name."))
        return
    move(turn, call.action, name, call.value, call.unit, call.si)


def move(
    turn: Turn,
    action: ev.FluidAction,
    name: str,
    value: Decimal,
    unit: str,
    si: it.SI,
    *,
    corrects: int | None = None,
) -> None:
    """Record a volume drained or added, and ask to clear the fluid's tag once that is enough.

    Args:
        turn: The turn.
        action: Drained or added.
        name: The fluid.
        value: In ``unit``.
        unit: As called.
        si: The same in SI.
        corrects: Number of the record in whose place it stands.
    """
    again = drained_again(turn.state, name, turn.at) if action == "drained" else None
    turn.record(
        ev.FluidMoved(action=action, fluid=name, value=value, unit=unit, si=si, corrects=corrects)
    )
    if again is not None and corrects is None:
        turn.answer(again)
    if action == "added":
        gate.ask_when_filled(turn, name)


def level(turn: Turn, call: it.Level) -> None:
    """Record a level."""
    turn.record(ev.LevelRead(fluid=call.fluid, level=call.level))
    gate.ask_when_filled(turn, call.fluid)


def finding(turn: Turn, call: it.Finding) -> None:
    """Record something wrong with a part, and hang the tag that it implies."""
    turn.record(
        ev.FindingRecorded(
            part=call.part, condition=call.condition, count=call.count, every=call.every
        )
    )
    gate.rehang(turn)


def work(turn: Turn, call: it.Work) -> None:
    """Record work done, hang the tag that it implies, or ask to clear the one that it ends."""
    event = ev.WorkRecorded(action=call.action, part=call.part, count=call.count, every=call.every)
    turn.record(event)
    _tick(turn, event)
    gate.rehang(turn)
    gate.ask_when_undone(turn, call.action, call.part)


def drained_again(state: State, name: str, at: datetime) -> DrainedAgain | None:
    """Return that a fluid was drained already and nothing was added since, or None."""
    now = fluids.balance(state, name)
    if not now.emptied or now.filled > 0 or now.since is None:
        return None
    days = 0 if now.session is None else days_between(now.since, at)
    return DrainedAgain(name, now.since, days, elsewhere=now.session is not None)


def part(turn: Turn, call: it.Part) -> None:
    """Record a part needed or used."""
    if call.intent == "part.need":
        turn.record(ev.PartNeeded(part=call.part, count=call.count))
    else:
        turn.record(ev.PartUsed(part=call.part, count=call.count))


def follow_up(turn: Turn, call: it.FollowUp) -> None:
    """Record something to come back to."""
    turn.record(ev.FollowUpRecorded(part=call.part))


def note(turn: Turn, call: it.Note) -> None:
    """Keep a note; with a clip it came by voice, so that its text is a draft."""
    draft = turn.clip is not None
    turn.record(
        ev.NoteKept(
            about=call.intent,
            text=call.text,
            draft=draft,
            clip=turn.clip,
            clip_sha256=turn.clip_sha256,
        )
    )


def serial(turn: Turn, call: it.Serial) -> None:
    """Record the machine's serial number."""
    turn.record(ev.SerialRecorded(serial=call.serial, machine=call.machine))


def _why_not(name: str, odd: CannotBe) -> str:
    last = amount(odd.before.value, odd.before.unit)
    why = "it only counts up" if odd.lower else "not so much time has passed since"
    return f"{name}: the last was {last}, and {why}"


def _tick(turn: Turn, event: ev.AnyEvent) -> None:
    step = steps.current(turn.state)
    if step is not None and steps.belongs_to(step, event):
        turn.answer(Ticked(steps.left_of(turn.state, step)))
