"""When a caution is due: at the step that leads into the danger, or at what was just called.

Each is spoken once a job, unless what calls for it has come about anew since. The texts and what
calls for them stand in ``cautions.toml``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

from companion.job import events as ev
from companion.job import steps
from companion.job.answers import Answer, Refused, SpecSaid
from companion.job.card import CardStep
from companion.job.caution_table import (
    OCCASIONS,
    Again,
    Caution,
    Condition,
    Occasion,
    Trigger,
    any_of,
)
from companion.job.cylinders import without_cylinder
from companion.job.danger_table import PLUG_WIRE_OFF
from companion.job.heat import is_hot
from companion.job.state import State

_HOLDS: Mapping[Condition, Callable[[State, datetime], bool]] = {
    "hot": is_hot,
    "plug wire on": lambda state, at: state.tag(PLUG_WIRE_OFF) is None,
    "engine running": lambda state, at: state.engine_running,
    "engine stopped": lambda state, at: not state.engine_running,
}

_ANEW_SINCE: Mapping[Again, Callable[[State], int]] = {
    "once": lambda state: 0,
    "engine started": lambda state: state.engine_started,
    "plug wire on": lambda state: max(state.cleared.get(PLUG_WIRE_OFF, 0), state.engine_started),
    "each step": lambda state: state.step_entered,
    "each time": lambda state: state.seq + 1,
}
"""Number of the record since which a danger is there anew."""


_OFF = frozenset({"removed", "disconnected"})
"""What is done to a plug wire that is taken off."""


def opening_cautions(cautions: tuple[Caution, ...]) -> tuple[ev.CautionSpoken, ...]:
    """Return those spoken when a job begins.

    Args:
        cautions: The table.
    """
    return tuple(_spoken(each) for each in _by_occasion(_Same(cautions))["job opened"])


def called_for(
    state: State, happened: ev.AnyEvent | Answer, at: datetime, cautions: tuple[Caution, ...]
) -> tuple[ev.CautionSpoken, ...]:
    """Return the cautions to be spoken on an event that was just recorded, or an answer given.

    Args:
        state: After the event.
        happened: The last event recorded, or the answer.
        at: When.
        cautions: The table.
    """
    return tuple(
        _spoken(caution) for caution in _due(state, happened, at, cautions) if not caution.stops
    )


def stops_for(
    state: State, happened: ev.AnyEvent, at: datetime, cautions: tuple[Caution, ...]
) -> tuple[Refused, ...]:
    """Return the warnings to stop the engine that an event calls for.

    Args:
        state: After the event.
        happened: The event.
        at: When it happened.
        cautions: Those of the table and the card.
    """
    return tuple(
        Refused(caution.text) for caution in _due(state, happened, at, cautions) if caution.stops
    )


def _due(
    state: State, happened: ev.AnyEvent | Answer, at: datetime, cautions: tuple[Caution, ...]
) -> Iterator[Caution]:
    occasion = _occasion(happened)
    if occasion is None:
        return
    for caution in _by_occasion(_Same(cautions))[occasion]:
        if any(
            _worth_saying(state, caution, trigger) and _meets(state, happened, at, trigger)
            for trigger in caution.trigger
            if occasion in _occasions(trigger)
        ):
            yield caution


def _spoken(caution: Caution) -> ev.CautionSpoken:
    return ev.CautionSpoken(caution=caution.name, text=caution.text, source=caution.source)


@dataclass(frozen=True, slots=True, eq=False)
class _Same:
    """A table, the same one only if it is the same object: comparing it all would take longer than
    looking it up."""

    cautions: tuple[Caution, ...]

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and other.cautions is self.cautions

    def __hash__(self) -> int:
        return id(self.cautions)


@lru_cache(maxsize=8)
def _by_occasion(table: _Same) -> Mapping[Occasion, tuple[Caution, ...]]:
    return {
        occasion: tuple(
            caution
            for caution in table.cautions
            if any(occasion in _occasions(trigger) for trigger in caution.trigger)
        )
        for occasion in OCCASIONS
    }


def _occasions(trigger: Trigger) -> tuple[Occasion, ...]:
    """A step that says what work it does leads to what that work is warned of."""
    return ("work", "step") if trigger.on == "work" else (trigger.on,)


def _worth_saying(state: State, caution: Caution, trigger: Trigger) -> bool:
    spoken = state.cautions.get(caution.name)
    return spoken is None or spoken < _ANEW_SINCE[trigger.again or caution.again](state)


def _occasion(happened: ev.AnyEvent | Answer) -> Occasion | None:
    match happened:
        case ev.StepEntered():
            return "step"
        case ev.FluidMoved():
            # A correction pours nothing.
            return happened.action if happened.corrects is None else None
        case ev.WorkRecorded():
            # What a step does was warned of when the step was entered.
            return "work" if happened.by != "step" else None
        case ev.FindingRecorded():
            return "finding"
        case ev.ReadingRecorded():
            return "reading"
        case SpecSaid():
            return "spec asked"
        case ev.PartUsed():
            return "part used"
        case ev.TagHung():
            return "tag hung"
        case ev.StartAffirmed():
            return "start affirmed"
        case ev.EngineRunning():
            # Against a tag nothing may be said but to stop it; the cautions come with the next run.
            return None if happened.against or happened.reasons else "engine running"
        case ev.EngineStopped():
            return "engine stopped"
    return None


def _meets(state: State, happened: ev.AnyEvent | Answer, at: datetime, trigger: Trigger) -> bool:
    if trigger.machines and not _is_machine(state, trigger.machines):
        return False
    match happened:
        case ev.StepEntered():
            step = steps.step_named(state, happened.step)
            # A step that is done or skipped is only looked at.
            if step is None or steps.is_finished(state, step):
                return False
            if "plug wire on" in trigger.when and _wire_is_its_own(step):
                return False
            return _hold(state, at, trigger) and _leads_to(step, trigger)
        case ev.FluidMoved():
            meant = _one_of(happened.fluid, trigger.fluids)
        case ev.WorkRecorded():
            meant = _works(happened.action, happened.part, trigger)
        case ev.FindingRecorded():
            meant = _one_of(happened.condition, trigger.conditions) and _part(
                happened.part, trigger
            )
        case ev.ReadingRecorded() | SpecSaid():
            meant = _one_of(without_cylinder(happened.measure), trigger.measures)
        case ev.PartUsed():
            meant = _part(happened.part, trigger)
        case ev.TagHung():
            meant = _one_of(happened.tag, trigger.tags)
        case _:
            meant = True
    return meant and _hold(state, at, trigger)


def _hold(state: State, at: datetime, trigger: Trigger) -> bool:
    return all(_HOLDS[condition](state, at) for condition in trigger.when)


def _is_machine(state: State, machines: tuple[str, ...]) -> bool:
    sheet, card = state.sheet, state.card
    told = [*((sheet.name, sheet.kind) if sheet else ()), *((card.title,) if card else ())]
    return any_of(machines).search(" ".join(told).lower()) is not None


def _wire_is_its_own(step: CardStep) -> bool:
    """Whether a step takes the plug wire off itself, or wants it on because the engine must run."""
    return (
        step.engine == "running"
        or PLUG_WIRE_OFF in step.hangs
        or any(each.part == "plug wire" and each.action in _OFF for each in step.does)
    )


def _leads_to(step: CardStep, trigger: Trigger) -> bool:
    if trigger.on == "work":
        return any(_works(each.action, each.part, trigger) for each in step.does)
    say = _without(step.say.lower(), trigger.unless)
    points = [_without(point, trigger.unless) for point in step.points]
    if trigger.about:
        told = " ".join((say, *points, *(each.part for each in step.does)))
        if any_of(trigger.about).search(told) is None:
            return False
    return (
        bool(set(step.hangs) & set(trigger.hangs))
        or bool(set(step.expects) & set(trigger.measures))
        or (bool(trigger.words) and any_of(trigger.words).search(say) is not None)
        or (
            bool(trigger.points)
            and any(any_of(trigger.points).search(point) is not None for point in points)
        )
    )


def _works(action: str, part: str, trigger: Trigger) -> bool:
    return _one_of(action, trigger.actions) and _part(part, trigger)


def _part(part: str, trigger: Trigger) -> bool:
    if not trigger.parts and not trigger.kinds:
        return True
    part = _without(part, trigger.unless)
    return (bool(trigger.parts) and any_of(trigger.parts).search(part) is not None) or any(
        part == kind or part.endswith(f" {kind}") for kind in trigger.kinds
    )


def _one_of(name: str, wanted: tuple[str, ...]) -> bool:
    return not wanted or name in wanted


def _without(text: str, overlooked: tuple[str, ...]) -> str:
    return any_of(overlooked).sub("", text) if overlooked else text
