"""What comes back on a spec sheet is about something that the sheet has."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from companion.grammar.plural import plural
from companion.job.sheet import SpecSheet
from companion.job.sheet_measures import measures
from companion.shelf.common import common_names
from companion.shelf.fault import Fault
from companion.shelf.name_faults import unknown_fault


def service_item_faults(sheet: SpecSheet) -> Iterable[Fault]:
    """Give a fault for each service item that names no fluid, part, measure, fastener, tire or belt
    of the sheet, nor the machine itself.

    An item may name several with "and" between them, the level of a fluid, what several names of
    the sheet end with ("valve clearance" of "intake clearance"), and anything in the plural.
    """
    known = _known(sheet)
    endings = {_last_word(name) for name in known}
    for index, service in enumerate(sheet.service):
        for item in re.split(r" and |, ", service.item.lower()):
            thing = item.removesuffix(" level")
            if not thing or thing in known or _last_word(thing) in _kinds(thing, endings):
                continue
            yield from unknown_fault(
                ("service", index, "item"),
                "service item",
                service.item,
                known,
                "list what it is about as a fluid, a part or a measure of this sheet",
            )


def _last_word(name: str) -> str:
    """Empty where it should have a name: that is reported as another fault."""
    return (name.split() or [""])[-1]


def _kinds(thing: str, endings: set[str]) -> set[str]:
    """Last words by which an item may mean several names: one word alone, and clearances."""
    return endings if len(thing.split()) == 1 else endings & {"clearance", "clearances", "lash"}


def _known(sheet: SpecSheet) -> frozenset[str]:
    return frozenset(
        words.lower()
        for name, spoken in _named(sheet)
        for one in (name, *spoken)
        for words in (one, plural(one))
        if words
    )


def _named(sheet: SpecSheet) -> Iterator[tuple[str, tuple[str, ...]]]:
    for fluid in sheet.fluid:
        yield fluid.name, (*fluid.spoken, *(("engine oil",) if fluid.name == "oil" else ()))
    for part in sheet.part:
        yield part.name, (*part.spoken, *part.plural)
    for measure in measures(sheet):
        yield measure.measure, measure.spoken
    for torque in sheet.torque:
        yield torque.fastener, torque.spoken
    for tire in sheet.tire:
        yield tire.name, ()
    for belt in sheet.belt:
        yield belt.name, ()
    if sheet.battery is not None:
        yield "battery", ()
    for name in common_names("part"):
        yield name, ()
    # The machine itself: "generator", "mower".
    for word in re.findall(r"[a-z]+", sheet.kind.lower()):
        yield word, ()
    yield "machine", ("engine",)
