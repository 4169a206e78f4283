"""What was recorded, a short line each, ready to be spoken."""

from __future__ import annotations

from decimal import Decimal

from companion.grammar.plural import plural
from companion.handbook.convert import plain
from companion.handbook.units import clock_parts, spoken
from companion.job import events as ev


def amount(value: Decimal, unit: str) -> str:
    """Say a value with its unit: "30 thou", "1 ounce"."""
    return f"{plain(value)} {spoken(unit, plural=value != 1)}"


def duration(seconds: float) -> str:
    """Say a length of time in its largest units: "2 hours", "1 minute 30 seconds"."""
    parts = (amount(Decimal(count), unit) for count, unit in clock_parts(seconds))
    return " ".join(parts) or "0 seconds"


def line(event: ev.AnyEvent) -> str:
    """Say what a call recorded; of other events, their kind."""
    match event:
        case ev.ReadingRecorded():
            return f"{event.measure} {amount(event.value, event.unit)}"
        case ev.FluidMoved():
            return f"{event.action} {amount(event.value, event.unit)} of {event.fluid}"
        case ev.LevelRead():
            return f"{event.fluid} level {event.level}"
        case ev.FindingRecorded():
            return found(how_many(event.part, event.count, every=event.every), event.condition)
        case ev.WorkRecorded():
            return f"{event.action} {how_many(event.part, event.count, every=event.every)}"
        case ev.PartNeeded():
            return f"need {event.count} {several(event.part, event.count)}"
        case ev.PartUsed():
            return f"used {event.count} {several(event.part, event.count)}"
        case ev.FollowUpRecorded():
            return f"follow up {event.part}"
        case ev.NoteKept():
            return f"{event.about} {event.text}" if event.text else f"a spoken {event.about}"
        case ev.SerialRecorded():
            return f"{of_kind(event.machine)}serial number {spaced(event.serial)}"
        case ev.TimerStarted():
            return f"{named(event.name)} {duration(event.seconds)}"
        case ev.TimerCancelled():
            return f"{named(event.name)} cancelled"
        case ev.TagHung():
            return f"tag {event.tag}"
    return event.kind


def of_kind(machine: str | None) -> str:
    """What is said before a serial number of what sort of machine it is: "mower "."""
    return "" if machine is None else f"{machine} "


def spaced(serial: str) -> str:
    """Space a serial number so that it is said character by character: "q t 4, 4 1 7"."""
    said = ["dash" if each == "-" else each.lower() for each in serial if not each.isspace()]
    threes = (" ".join(said[at : at + 3]) for at in range(0, len(said), 3))
    return ", ".join(threes)


def found(what: str, condition: str) -> str:
    """Say what is wrong: "4 engine bolts loose", "no spark"."""
    return f"no {what}" if condition == "none" else f"{what} {condition}"


def how_many(part: str, count: int, *, every: bool) -> str:
    """Name a part with how many of it: "axle", "4 engine bolts", "all engine bolts"."""
    if every:
        return f"all {several(part, 2)}"
    return part if count == 1 else f"{count} {several(part, count)}"


def several(part: str, count: int) -> str:
    """Name a part in the plural by the usual rule; one that is a plural already stays."""
    return part if count == 1 else plural(part) or part


def named(timer: str) -> str:
    """Say which timer: "soak timer", and "timer" for the one without a name."""
    return timer if timer == "timer" else f"{timer} timer"
