"""When a caution is due: at the step that leads into the danger, or at what was just called.

Each is spoken once a job, unless what calls for it has come about anew since. The texts and what
calls for them stand in ``cautions.toml``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime

from companion.job import events as ev
from companion.job import steps
from companion.job.card import CardStep
from companion.job.caution_table import (
    OCCASIONS,
    Again,
    Caution,
    Condition,
    Occasion,
    Trigger,
    any_of,
    load_cautions,
)
from companion.job.cylinders import without_cylinder
from companion.job.heat import is_hot
from companion.job.state import State
from companion.job.tags import PLUG_WIRE_OFF

CAUTIONS: tuple[Caution, ...] = load_cautions()
"""All of them, in the order in which they are spoken."""


def _spoken(caution: Caution) -> ev.CautionSpoken:
    return ev.CautionSpoken(caution=caution.name, text=caution.text, source=caution.source)


OPENING: tuple[ev.CautionSpoken, ...] = tuple(
    _spoken(caution)
    for caution in CAUTIONS
    if any(trigger.on == "job opened" for trigger in caution.trigger)
)
"""Those spoken when a job begins."""

_BY_OCCASION: Mapping[Occasion, tuple[Caution, ...]] = {
    occasion: tuple(
        caution
        for caution in CAUTIONS
        if any(trigger.on == occasion for trigger in caution.trigger)
    )
    for occasion in OCCASIONS
}

_HOLDS: Mapping[Condition, Callable[[State, datetime], bool]] = {
    "hot": is_hot,
    "plug wire on": lambda state, at: state.tag(PLUG_WIRE_OFF) is None,
    "engine running": lambda state, at: state.engine_running,
}

_ANEW_SINCE: Mapping[Again, Callable[[State], int]] = {
    "once": lambda state: 0,
    "engine started": lambda state: state.engine_started,
    "plug wire on": lambda state: max(state.cleared.get(PLUG_WIRE_OFF, 0), state.engine_started),
}
"""Number of the record since which a danger is there anew."""


def called_for(state: State, event: ev.AnyEvent, at: datetime) -> tuple[ev.CautionSpoken, ...]:
    """Return the cautions to be spoken on an event that was just recorded.

    Args:
        state: After the event.
        event: The last one recorded.
        at: When it was recorded.
    """
    occasion = _occasion(event)
    if occasion is None:
        return ()
    return tuple(
        _spoken(caution)
        for caution in _BY_OCCASION[occasion]
        if _worth_saying(state, caution)
        and any(
            trigger.on == occasion and _meets(state, event, at, trigger)
            for trigger in caution.trigger
        )
    )


def _worth_saying(state: State, caution: Caution) -> bool:
    spoken = state.cautions.get(caution.name)
    return spoken is None or spoken < _ANEW_SINCE[caution.again](state)


def _occasion(event: ev.AnyEvent) -> Occasion | None:
    match event:
        case ev.StepEntered():
            return "step"
        case ev.FluidMoved():
            return event.action
        case ev.WorkRecorded():
            return "work"
        case ev.FindingRecorded():
            return "finding"
        case ev.ReadingRecorded():
            return "reading"
        case ev.PartUsed():
            return "part used"
        case ev.TagHung():
            return "tag hung"
        case ev.StartAffirmed():
            return "start affirmed"
        case ev.EngineRunning():
            # Against a tag nothing may be said but to stop it; the cautions come with the next run.
            return None if event.against or event.reasons else "engine running"
    return None


def _meets(state: State, event: ev.AnyEvent, at: datetime, trigger: Trigger) -> bool:
    if not all(_HOLDS[condition](state, at) for condition in trigger.when):
        return False
    match event:
        case ev.StepEntered():
            step = steps.step_named(state, event.step)
            # A step that is done or skipped is only looked at.
            return (
                step is not None and not steps.is_settled(state, step) and _leads_to(step, trigger)
            )
        case ev.FluidMoved():
            return _one_of(event.fluid, trigger.fluids)
        case ev.WorkRecorded():
            return _one_of(event.action, trigger.actions) and _named(event.part, trigger.parts)
        case ev.FindingRecorded():
            return _one_of(event.condition, trigger.conditions) and _named(
                event.part, trigger.parts
            )
        case ev.ReadingRecorded():
            return _one_of(without_cylinder(event.measure), trigger.measures)
        case ev.PartUsed():
            return _named(event.part, trigger.parts)
        case ev.TagHung():
            return _one_of(event.tag, trigger.tags)
    return True


def _leads_to(step: CardStep, trigger: Trigger) -> bool:
    return (
        bool(set(step.hangs) & set(trigger.hangs))
        or bool(set(step.expects) & set(trigger.measures))
        or (bool(trigger.words) and any_of(trigger.words).search(step.say.lower()) is not None)
        or (bool(trigger.points) and any(_named(point, trigger.points) for point in step.points))
    )


def _one_of(name: str, wanted: tuple[str, ...]) -> bool:
    return not wanted or name in wanted


def _named(part: str, words: tuple[str, ...]) -> bool:
    return not words or any_of(words).search(part) is not None
