"""What an item of a sheet's service is about, by the names that calls record, and what is called
when it is done.

An item is written as people say it: "engine oil" of a fluid that is called "oil", "tines" of the
part "tine", "valve clearance" of two measures, "belts" of every belt, "oil level", "tines and spark
plug". Both what counts and what can never count follow from here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from companion.grammar.plural import plural
from companion.job.sheet import SpecSheet
from companion.job.sheet_measures import deflection_name, measures, pressure_name, torque_name

SAME_OIL = frozenset({"oil", "engine oil", "motor oil"})
"""What the oil of an engine is called, on a machine that lists only one oil."""

SEVERAL = frozenset({"clearance", "lash"})
"""Last words that stand for every measure that ends with them: "valve clearance" of an intake and
an exhaust clearance."""

CHECKS = frozenset({"check", "inspect", "measure", "test", "adjust", "set"})
"""First words of work that a measure called is a sign of."""

CHANGES = frozenset({"change", "replace", "drain"})
"""First words of work that a fluid drained is a sign of, or for the first two a part used."""

FILLS = frozenset({"fill", "refill", "top"})
"""First words of work that a fluid added is a sign of."""

ACTIONS = {
    "change": ("replaced", "installed"),
    "replace": ("replaced", "installed"),
    "clean": ("cleaned", "replaced"),
    "wash": ("cleaned",),
    "check": ("checked", "adjusted", "cleaned", "replaced", "tightened", "repaired"),
    "inspect": ("checked", "adjusted", "cleaned", "replaced", "tightened", "repaired"),
    "measure": ("checked", "adjusted", "replaced"),
    "test": ("checked", "adjusted", "replaced"),
    "adjust": ("adjusted",),
    "set": ("adjusted",),
    "grease": ("greased", "lubricated"),
    "lubricate": ("greased", "oiled", "lubricated"),
    "oil": ("oiled", "lubricated"),
    "sharpen": ("sharpened", "replaced"),
    "tighten": ("tightened",),
    "retighten": ("tightened",),
    "torque": ("tightened",),
    "inflate": ("inflated",),
    "repair": ("repaired", "replaced"),
    "remove": ("removed",),
    "free": ("freed",),
    "soak": ("soaked",),
}
"""By a word of a sheet's work, what may be called for it; our own table."""


@dataclass(frozen=True, slots=True)
class Thing:
    """One thing that an item is about.

    Attributes:
        name: As the item has it.
        recorded: The names under which fluids, parts and measures of it are recorded.
        level: Whether the level of a fluid is meant.
    """

    name: str
    recorded: frozenset[str]
    level: bool = False


Named = Sequence[tuple[frozenset[str], frozenset[str]]]
"""Of each thing the names it is recorded under, and every way to write it."""


def named_on(sheet: SpecSheet) -> Named:
    """Return everything that a service of a sheet may be about."""
    return tuple(_named(sheet))


def things(known: Named, item: str) -> tuple[Thing, ...]:
    """Return what an item is about; several where it names several with "and" or a comma.

    Args:
        known: What the sheet names.
        item: As the sheet has it.
    """
    whole = " ".join(item.lower().split())
    if any(whole in ways for _, ways in known):
        return tuple(_things(known, whole))
    each = re.split(r" and |, ", whole)
    return tuple(thing for words in each if words for thing in _things(known, words))


def verb_of(work: str) -> str:
    """Return the first word of a sheet's work: "check" of "check and adjust"."""
    words = work.lower().replace(",", " ").split()
    return words[0] if words else ""


def actions_of(work: str) -> frozenset[str]:
    """Return the work that may be called for a sheet's work."""
    words = work.lower().replace(",", " ").split()
    return frozenset(action for word in words for action in ACTIONS.get(word, ()))


def is_measured(measure: str, thing: Thing, work: str) -> bool:
    """Return whether a measure is what a thing is checked by: its name, one of several of it
    ("intake clearance" of "valve clearance"), or the word that the work names ("check the gap").

    Args:
        measure: The name of a measure.
        thing: What the item of the sheet is about.
        work: What the sheet wants done to it.
    """
    if measure in thing.recorded or measure in work.lower().replace(",", " ").split():
        return True
    kinds = {name.split()[-1] for name in thing.recorded if len(name.split()) > 1}
    return len(measure.split()) > 1 and measure.split()[-1] in kinds & SEVERAL


def never_counts(sheet: SpecSheet, item: str, work: str) -> str | None:
    """Return the thing of an item that no call can ever mark as done, or None.

    Args:
        sheet: Whose item it is.
        item: What the service is about.
        work: What is done.
    """
    verb, actions = verb_of(work), actions_of(work)
    fluids = {fluid.name for fluid in sheet.fluid}
    measured = [each.measure for each in measures(sheet)]
    for thing in things(named_on(sheet), item):
        moved = bool(fluids & thing.recorded) and (verb in CHANGES or verb in FILLS)
        levelled = bool(fluids & thing.recorded) and verb in CHECKS
        checked = verb in CHECKS and any(is_measured(each, thing, work) for each in measured)
        # Work can be called on any part with a name; what is no part is never named.
        worked = bool(actions) and not thing.recorded <= fluids
        if not (moved or levelled or checked or worked):
            return thing.name
    return None


def _things(known: Named, words: str) -> list[Thing]:
    level = words.endswith(" level")
    wanted = {words, words.removesuffix("s"), words.removesuffix(" level")}
    found = [recorded for recorded, ways in known if wanted & ways]
    if not found and len(words.split()) == 1:
        several = [
            recorded
            for recorded, _ in known
            if any(plural(name.split()[-1]) == words for name in recorded if name.strip())
        ]
        if several:
            # "belts": each belt of the sheet.
            return [Thing(words, recorded) for recorded in several]
        found = [recorded for recorded, ways in known if any(w.split()[-1] == words for w in ways)]
    names = frozenset(name for recorded in found for name in recorded)
    return [Thing(words, names or frozenset(wanted), level)]


def _named(sheet: SpecSheet) -> Iterator[tuple[frozenset[str], frozenset[str]]]:
    oils = [fluid.name for fluid in sheet.fluid if {fluid.name, *fluid.spoken} & SAME_OIL]
    for fluid in sheet.fluid:
        also = SAME_OIL if [fluid.name] == oils else ()
        yield _ways((fluid.name,), *fluid.spoken, *also)
    for part in sheet.part:
        yield _ways((part.name,), *part.spoken, *part.plural)
    for torque in sheet.torque:
        yield _ways((torque.fastener, torque_name(torque)), *torque.spoken)
    for tire in sheet.tire:
        yield _ways((tire.name, pressure_name(tire)))
    for belt in sheet.belt:
        yield _ways((belt.name, deflection_name(belt)))
    for reading in sheet.reading:
        yield _ways((reading.measure,), *reading.spoken)


def _ways(recorded: tuple[str, ...], *said: str) -> tuple[frozenset[str], frozenset[str]]:
    singular = {*recorded, *said}
    several = {plural(each) for each in singular} - {None}
    return frozenset(recorded), frozenset(
        each.lower() for each in (*singular, *several) if each and each.strip()
    )
