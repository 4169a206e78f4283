"""Verdicts and dates in the words that an owner reads."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from companion.handbook.convert import plain
from companion.handbook.unit_table import OunceSystem
from companion.handbook.units import UnknownUnit, dimension
from companion.job.events import ReadingRecorded
from companion.job.remark import EngineNotAsWanted, LastTime
from companion.job.service_due import ServiceDue
from companion.job.state import State
from companion.report.figures import figure, window_text


def verdict_in_plain_words(event: ReadingRecorded, ounce: OunceSystem) -> str:
    """Return a verdict as a person would put it: "too low by 15 psi; should be at least 90 psi"."""
    wanted = window_text(event.window, ounce, event.unit)
    match event.verdict:
        case "in":
            said = f"right: {wanted}" if wanted else "right"
        case "unknown":
            said = "" if _is_time(event.unit) else _not_from_the_maker(event, ounce)
        case _:
            by = ""
            if event.beyond is not None:
                by = f" by {figure(event.beyond, event.unit, ounce).called}"
            said = f"too {event.verdict}{by}; should be {wanted}"
    for remark in event.remarks:
        if isinstance(remark, EngineNotAsWanted):
            temper = "hot" if remark.wanted == "cold" else "not hot"
            said += f"; the figure is for a {remark.wanted} engine, and this one was {temper}"
    return said


def due_in_plain_words(item: ServiceDue) -> str:
    """Return when an item is due: "at 170.5 engine hours or by 4 March 2027"."""
    service = item.service
    ways: list[str] = []
    if item.at_hours is not None:
        ways.append(f"at {hours_text(item.at_hours)}")
    elif service.hours is not None:
        every = hours_text(service.hours)
        if item.last_at is None:
            ways.append(f"every {every}")
        else:
            since = "from now" if item.done_here else f"from {day_text(item.last_at)}"
            ways.append(f"{every} {since}")
    if item.on is not None:
        ways.append(f"by {day_text(item.on)}")
    elif service.months is not None:
        ways.append("every month" if service.months == 1 else f"every {service.months} months")
    said = " or ".join(ways)
    if service.season is not None:
        season = f"at the {service.season} of each season"
        said = f"{said}; {season}" if said else season
    if service.each_use:
        said = f"{said}; before each use" if said else "before each use"
    return f"overdue: {said}" if item.overdue else said or "see the maker's manual"


def last_done_in_plain_words(item: ServiceDue) -> str:
    """Return when an item was last done: "in this job", "4 March 2026 at 120.5 engine hours"."""
    if item.done_here:
        return "in this job"
    if item.service.each_use:
        return ""
    if item.last_at is None:
        return "not known"
    at = "" if item.last_hours is None else f" at {hours_text(item.last_hours)}"
    return f"{day_text(item.last_at)}{at}"


def hours_text(hours: Decimal) -> str:
    """Return a number of engine hours: "170.5 engine hours"."""
    return f"{plain(hours)} engine hour{'' if hours == 1 else 's'}"


def machine_of(state: State) -> str:
    """What the very machine of a session is called: by its own name, else by its sheet."""
    return state.machine or "Machine without a spec sheet"


def day_text(day: date) -> str:
    """Return a day: "4 March 2027"."""
    return f"{day.day} {day:%B %Y}"


def _not_from_the_maker(event: ReadingRecorded, ounce: OunceSystem) -> str:
    for remark in event.remarks:
        if isinstance(remark, LastTime):
            last = figure(remark.value, remark.unit, ounce).called
            return f"no figure from the maker; {last} on {day_text(remark.at.date())}"
    return "no figure from the maker"


def _is_time(unit: str) -> bool:
    try:
        return dimension(unit) == "time"
    except UnknownUnit:
        return False
