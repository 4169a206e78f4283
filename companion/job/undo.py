"""Correction and disregard: new records that point at old ones.

Two rules keep them from doing harm. "Disregard" acts at once only on what the last call recorded;
anything older it asks about. And it opens no gate: a tag comes down by "affirm" alone, and one that
came down on the strength of a call that is disregarded hangs again.
"""

from __future__ import annotations

from typing import Any

from companion.handbook.units import dimension, spoken, to_si
from companion.intent import intents as it
from companion.job import bench, fluids, gate
from companion.job import events as ev
from companion.job.answers import Nothing, Refused
from companion.job.dangers import dangers
from companion.job.lines import line
from companion.job.state import State
from companion.job.state_values import Fact, Undoable
from companion.job.turn import Turn


def correct(turn: Turn, call: it.Correction) -> None:
    """Record another value in place of the last reading or volume."""
    fact = _last_value(turn.state)
    if fact is None:
        turn.answer(Nothing("There is no reading and no volume to correct."))
        return
    if fact.seq in turn.state.superseded:
        gone = turn.state.superseded[fact.seq]
        turn.answer(Nothing(f"{line(fact.event).capitalize()} was {gone}: call it anew."))
        return
    event = fact.event
    quantity = in_place_of(turn, call, line(event), event.unit)
    if quantity is None:
        return
    unit, si = quantity
    if isinstance(event, ev.ReadingRecorded):
        bench.measure(turn, event.measure, call.value, unit, si, corrects=fact.seq)
    else:
        bench.move(turn, event.action, event.fluid, call.value, unit, si, corrects=fact.seq)
        if event.action == "drained":
            _ask_about_tag(turn, fact)


def correctable(state: State) -> tuple[str, str] | None:
    """Return the name and unit of the value that "correction" would replace now, or None.

    While a doubtful reading or volume is asked about, that is what a correction means.
    """
    if state.question is not None and state.question.event.candidates:
        doubted = state.question.event.candidates[0]
        if isinstance(doubted, it.Reading):
            return doubted.measure, doubted.unit
        return (
            (doubted.fluid, doubted.unit)
            if isinstance(doubted, it.Fluid) and doubted.fluid
            else None
        )
    fact = _last_value(state)
    if fact is None or fact.seq in state.superseded:
        return None
    event = fact.event
    name = event.measure if isinstance(event, ev.ReadingRecorded) else event.fluid
    return name, event.unit


def in_place_of(turn: Turn, call: it.Correction, what: str, unit: str) -> tuple[str, it.SI] | None:
    """Return unit and SI of a correction, or answer why it does not fit and return None.

    Args:
        turn: The turn.
        call: The correction; without a unit, that of what it corrects holds.
        what: What it would correct, in words.
        unit: Of what it would correct.
    """
    if call.value < 0 and dimension(unit) == "volume":
        turn.answer(Nothing(f"The last was {what}, which cannot be below zero."))
        return None
    if call.unit is None or call.si is None:
        value, si_unit = to_si(call.value, unit, ounce=turn.state.ounce)
        si = it.SI.model_validate({"value": float(value), "unit": si_unit})
        return unit, si
    if dimension(call.unit) != dimension(unit):
        wrong = spoken(call.unit, plural=True)
        turn.answer(Nothing(f"The last was {what}, which cannot be in {wrong}."))
        return None
    return call.unit, call.si


Value = Fact[ev.ReadingRecorded] | Fact[ev.FluidMoved]


def _last_value(state: State) -> Value | None:
    """The last reading or volume, even if it was disregarded: then an older one is not meant."""
    latest: list[Value] = [*state.readings[-1:], *state.fluids[-1:]]
    # Ordered by place: a value that a review corrected among older ones was not called last.
    last = max(latest, key=lambda fact: fact.place, default=None)
    while last is not None and last.seq in state.superseded and last.event.corrects is not None:
        # A correction that was disregarded makes what it had corrected count again.
        last = _value(state, last.event.corrects)
    return last


def _value(state: State, seq: int) -> Value | None:
    place = state.place(seq)
    return state.readings.at(place, seq) or state.fluids.at(place, seq)


def disregard(turn: Turn) -> None:
    """Set the last record aside, or ask about it where something else came since."""
    state = turn.state
    if state.engine_running and state.last_call == state.engine_started:
        # "Engine running" is never disregarded, since the engine may run: it is only called
        # stopped.
        turn.answer(Refused("That the engine runs is not disregarded: call it stopped instead."))
        return
    entry = _last_undoable(state)
    if entry is None:
        turn.answer(Nothing("There is nothing to disregard."))
    elif entry.fact.seq == turn.state.last_call:
        set_aside(turn, entry.fact.seq)
    else:
        what = line(entry.fact.event)
        turn.record(
            ev.Asked(
                about="disregard",
                record=entry.fact.seq,
                meaning=f"The last that can be disregarded is {what}. Affirm sets it aside.",
            )
        )


def _last_undoable(state: State) -> Undoable | None:
    return next(
        (entry for entry in reversed(state.undo) if entry.fact.seq not in state.superseded), None
    )


def set_aside(turn: Turn, record: int) -> None:
    """Record that a record does not count, and see to the tags.

    Args:
        turn: The turn.
        record: Number of the record; one that cannot be set aside is left alone.
    """
    state = turn.state
    entry = state.undo.at(record, record)
    if entry is None or record in state.superseded:
        turn.answer(Nothing("There is nothing to disregard."))
        return
    event = entry.fact.event
    if isinstance(event, ev.TagHung):
        gate.clear_by_call(turn, event.tag)
        return
    corrects = event.corrects if isinstance(event, ev.Correctable) else None
    turn.record(ev.Disregarded(record=record, restores=corrects))
    if isinstance(event, ev.WorkRecorded):
        gate.hang_after_disregard(turn, entry.fact)
    gate.rehang(turn)
    _ask_about_tag(turn, entry.fact)


def _ask_about_tag(turn: Turn, fact: Fact[Any]) -> None:
    """Ask to clear the tag that the record had hung: it stays up until "affirm"."""
    gate.ask_to_clear(turn, led_to(turn.state, fact))


def led_to(state: State, fact: Fact[Any]) -> tuple[str, ...]:
    """Return the tags that hang because of a record that no longer counts, and for nothing else."""
    event = fact.event
    tag: str | None = None
    table = state.rules.dangers
    if isinstance(event, ev.WorkRecorded):
        tag = table.work(event.part, event.action).tag
    elif isinstance(event, ev.FindingRecorded):
        tag = table.found(event.part, event.condition).tag
    elif (
        isinstance(event, ev.FluidMoved | ev.LevelRead)
        and event.fluid in table.fluids
        and not fluids.balance(state, event.fluid).missing
    ):
        tag = table.fluids[event.fluid].tag
    still = {danger.tag for danger in dangers(state)}
    # Only a tag that was hung with this record: one that hung before has its own reason.
    return tuple(
        each.tag
        for each in state.tags
        if each.tag == tag and tag not in still and each.by == "implied" and each.seq > fact.place
    )
