"""The usual cautions: what is said, when, and what makes it worth saying again.

They end where the maker's manual, local codes and licensed practice begin. Each is spoken once a
job, unless what calls for it has come about anew since.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from companion.job import events as ev
from companion.job.heat import is_hot
from companion.job.state import State
from companion.job.tags import PLUG_WIRE_OFF

COMMON = "common practice"

HANDS_NEAR = (
    "blade",
    "auger",
    "belt",
    "tine",
    "chain",
    "impeller",
    "flywheel",
    "pulley",
    "shear pin",
)
"""Words in the names of parts that the engine turns."""


def _first_time(state: State) -> int:
    return 0


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution.

    Attributes:
        name: Short, for the log.
        text: What is spoken.
        source: Where it is from.
        called_for: Whether this event, just recorded, calls for it. Takes the state after the
            event, the event, and when.
        anew_since: Number of the record since which the danger is there anew: a caution spoken
            before it is spoken again.
    """

    name: str
    text: str
    source: str
    called_for: Callable[[State, ev.AnyEvent, datetime], bool]
    anew_since: Callable[[State], int] = _first_time


def _drains_hot(state: State, event: ev.AnyEvent, at: datetime) -> bool:
    if isinstance(event, ev.FluidMoved):
        return event.action == "drained" and is_hot(state, at)
    # A step that hangs such a tag is about to drain: then the caution still comes in time.
    return (
        isinstance(event, ev.TagHung)
        and event.by == "step"
        and event.tag in {"no oil", "no coolant"}
        and is_hot(state, at)
    )


def _fuel_moves(state: State, event: ev.AnyEvent, at: datetime) -> bool:
    return isinstance(event, ev.FluidMoved) and event.fluid in {"fuel", "two stroke mix"}


def _waste(state: State, event: ev.AnyEvent, at: datetime) -> bool:
    return isinstance(event, ev.FluidMoved) and event.action == "drained"


def _engine_runs(state: State, event: ev.AnyEvent, at: datetime) -> bool:
    return isinstance(event, ev.EngineRunning)


def _hands_near(state: State, event: ev.AnyEvent, at: datetime) -> bool:
    if not isinstance(event, ev.WorkRecorded | ev.FindingRecorded):
        return False
    near = any(word in event.part for word in HANDS_NEAR)
    return near and state.tag(PLUG_WIRE_OFF) is None


def _wire_on_since(state: State) -> int:
    return max(state.cleared.get(PLUG_WIRE_OFF, 0), state.engine_started)


def _part(*words: str) -> Callable[[State, ev.AnyEvent, datetime], bool]:
    def called_for(state: State, event: ev.AnyEvent, at: datetime) -> bool:
        return isinstance(event, ev.WorkRecorded | ev.FindingRecorded) and any(
            word in event.part for word in words
        )

    return called_for


def _blocked_up(state: State, event: ev.AnyEvent, at: datetime) -> bool:
    return isinstance(event, ev.TagHung) and event.tag == "blocked up"


def _solvents(state: State, event: ev.AnyEvent, at: datetime) -> bool:
    return isinstance(event, ev.WorkRecorded) and (
        event.action == "soaked" or (event.action == "cleaned" and "carburetor" in event.part)
    )


def _grinding(state: State, event: ev.AnyEvent, at: datetime) -> bool:
    return isinstance(event, ev.WorkRecorded) and event.action == "sharpened"


CAUTIONS = (
    Caution(
        "hot oil",
        "The engine has run within half an hour: oil, coolant and exhaust may burn. "
        "Wear gloves and let it cool if in doubt.",
        COMMON,
        _drains_hot,
        anew_since=lambda state: state.engine_started,
    ),
    Caution(
        "fuel vapor",
        "Fuel vapor catches fire from a spark or a pilot light across the room: "
        "air the place, engine cold, fuel only in a fuel can.",
        COMMON,
        _fuel_moves,
    ),
    Caution(
        "waste",
        "Old oil, fuel and coolant go to a collection point, never into a drain; "
        "local rules say where.",
        COMMON,
        _waste,
    ),
    Caution(
        "carbon monoxide",
        "Exhaust kills indoors without a smell: run it outside, away from doors and windows. "
        "Ears and eyes covered.",
        COMMON,
        _engine_runs,
    ),
    Caution(
        "hands near",
        "Key out and plug wire off before hands go near what the engine turns. "
        "A jammed drive can hold force even then.",
        COMMON,
        _hands_near,
        anew_since=_wire_on_since,
    ),
    Caution(
        "springs",
        "A wound spring lets go at once: hold it, and keep face and fingers out of its way.",
        COMMON,
        _part("recoil", "spring"),
    ),
    Caution(
        "battery",
        "A battery gives off gas that explodes, and its acid burns: no spark, eyes covered, "
        "ground cable off first and on last.",
        COMMON,
        _part("battery"),
    ),
    Caution(
        "support",
        "Reach under it only when it stands on blocks or stands, never on a jack alone.",
        COMMON,
        _blocked_up,
    ),
    Caution(
        "solvents",
        "Solvents and penetrants, home-mixed ones most of all, burn and harm lungs and skin: "
        "gloves, fresh air, no flame.",
        COMMON,
        _solvents,
    ),
    Caution(
        "grinding",
        "Eyes covered when metal flies; a blade must be balanced again after sharpening.",
        COMMON,
        _grinding,
    ),
)
"""Those that an event calls for, in the order in which they are spoken."""

LIMITS = ev.CautionSpoken(
    caution="limits",
    text="The maker's manual, local codes and licensed practice come before anything said here.",
    source=COMMON,
)
"""Spoken once, when a job begins."""


def called_for(state: State, event: ev.AnyEvent, at: datetime) -> tuple[ev.CautionSpoken, ...]:
    """Return the cautions to be spoken on an event that was just recorded.

    Args:
        state: After the event.
        event: The last one recorded.
        at: When it was recorded.
    """
    return tuple(
        ev.CautionSpoken(caution=caution.name, text=caution.text, source=caution.source)
        for caution in CAUTIONS
        if caution.called_for(state, event, at)
        and (
            caution.name not in state.cautions
            or state.cautions[caution.name] < caution.anew_since(state)
        )
    )
