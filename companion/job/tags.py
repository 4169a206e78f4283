"""The tags that hang by themselves, and what asks to take them down; read from ``tags.toml``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from companion.job.sheet import SheetModel
from companion.job.toml_file import Fault, read_model, refuse
from companion.job.toml_lines import Location

PLUG_WIRE_OFF = "plug wire off"
"""The tag that says that the engine cannot fire."""

TABLE = Path(__file__).parent / "tags.toml"
"""The rules that travel with the program."""


class PartWork(SheetModel):
    """Work that hangs a tag, and work on the same part that undoes it."""

    parts: tuple[str, ...] = ()
    """As work calls name them, or the last words of such names; empty means every part."""
    hung_by: tuple[str, ...]
    """Work after which the tag must hang."""
    undone_by: tuple[str, ...]
    """Work on the same part after which it is as it was."""


class PartFound(SheetModel):
    """Findings that hang a tag."""

    parts: tuple[str, ...] = ()
    """As in ``PartWork``."""
    conditions: tuple[str, ...]
    """What was found."""


class FoundUnmended(PartFound):
    """Findings that keep the gate shut without a tag."""

    mended_by: tuple[str, ...]
    """Work on the same part that mends it."""


class TagFluid(SheetModel):
    """A fluid whose draining hangs a tag."""

    fluid: str
    """As fluid calls name it."""
    level_needed: bool = False
    """Whether only a level called full shows that enough is in."""


class TagRule(SheetModel):
    """One tag: what hangs it by itself, and what takes it down."""

    tag: str
    """Its name."""
    why: str
    """Why nobody may start the engine while it hangs; a sentence."""
    each_called: bool = False
    """Whether each part must be called back before "affirm" may take it down."""
    work: tuple[PartWork, ...] = ()
    """Work that hangs it."""
    found: tuple[PartFound, ...] = ()
    """Findings that hang it."""
    fluid: tuple[TagFluid, ...] = ()
    """Fluids whose draining hangs it."""

    def hung_by_work(self, action: str, part: str) -> bool:
        """Return whether this work hangs the tag."""
        return any(action in each.hung_by and names(each.parts, part) for each in self.work)

    def hung_by_finding(self, part: str, condition: str) -> bool:
        """Return whether this finding hangs the tag."""
        return any(condition in each.conditions and names(each.parts, part) for each in self.found)

    def undone_by_work(self, action: str, part: str) -> bool:
        """Return whether this work undoes what hung the tag on the same part."""
        return any(action in each.undone_by and names(each.parts, part) for each in self.work)


class TagTable(SheetModel):
    """The whole of ``tags.toml``."""

    tag: tuple[TagRule, ...]
    found: tuple[FoundUnmended, ...] = ()


def names(parts: tuple[str, ...], part: str) -> bool:
    """Return whether a part is one of these: by its whole name or its last words; all if none."""
    return not parts or any(part == each or part.endswith(f" {each}") for each in parts)


def load_tags(path: Path = TABLE) -> TagTable:
    """Load the rules.

    Raises:
        CompanionError: If the file cannot be read or is wrong, with file, line and reason.
    """
    table, lines = read_model(path, TagTable, "table of tags")
    refuse(path, lines, [*_faults(table)])
    return table


def _faults(table: TagTable) -> Iterable[Fault]:
    seen: set[str] = set()
    fluids: set[str] = set()
    for index, rule in enumerate(table.tag):
        at: Location = ("tag", index)
        if rule.tag in seen:
            yield Fault((*at, "tag"), f"the tag '{rule.tag}' is listed twice")
        seen.add(rule.tag)
        if not (rule.work or rule.found or rule.fluid):
            yield Fault(at, f"nothing hangs the tag '{rule.tag}'; give it work, found or fluid")
        if rule.found and not rule.work:
            yield Fault(at, f"no work undoes what is found for '{rule.tag}'; give it work")
        for place, work in enumerate(rule.work):
            for action in set(work.hung_by) & set(work.undone_by):
                yield Fault((*at, "work", place), f"'{action}' both hangs and undoes the tag")
            for key in ("hung_by", "undone_by"):
                if not getattr(work, key):
                    yield Fault((*at, "work", place, key), f"'{key}' is empty")
        for place, each in enumerate(rule.fluid):
            if each.fluid in fluids:
                yield Fault((*at, "fluid", place, "fluid"), f"'{each.fluid}' has a tag already")
            fluids.add(each.fluid)
    for index, found in enumerate(table.found):
        if not found.mended_by:
            yield Fault(("found", index, "mended_by"), "'mended_by' is empty")


_TABLE = load_tags()

TAGS: Mapping[str, TagRule] = {rule.tag: rule for rule in _TABLE.tag}
"""By name, the tags that hang by themselves."""

FOUND: tuple[FoundUnmended, ...] = _TABLE.found
"""Findings that keep the gate shut without a tag."""


@dataclass(frozen=True, slots=True)
class Filling:
    """A fluid without which, or with the wrong amount of which, the engine must not be started.

    Attributes:
        fluid: As fluid calls name it.
        tag: What hangs from draining on.
        level_needed: Whether only a level called full shows that enough is in.
    """

    fluid: str
    tag: str
    level_needed: bool


FILLINGS: Mapping[str, Filling] = {
    each.fluid: Filling(each.fluid, rule.tag, each.level_needed)
    for rule in _TABLE.tag
    for each in rule.fluid
}
"""By fluid, the tag that draining it implies."""


@cache
def fillings_of(tag: str) -> tuple[Filling, ...]:
    """Return the fluids whose draining hangs a tag."""
    return tuple(each for each in FILLINGS.values() if each.tag == tag)


@cache
def hung_by_work(action: str, part: str) -> tuple[TagRule, ...]:
    """Return the tags that this work hangs."""
    return tuple(rule for rule in TAGS.values() if rule.hung_by_work(action, part))


@cache
def hung_by_finding(part: str, condition: str) -> tuple[TagRule, ...]:
    """Return the tags that this finding hangs."""
    return tuple(rule for rule in TAGS.values() if rule.hung_by_finding(part, condition))


@cache
def undone_by_work(action: str, part: str) -> tuple[TagRule, ...]:
    """Return the tags that this work asks to clear."""
    return tuple(rule for rule in TAGS.values() if rule.undone_by_work(action, part))


def tags_that_may_hang(fluids: Iterable[str]) -> tuple[str, ...]:
    """Return the tags that calls may hang by themselves, so that they can be named to clear them.

    Args:
        fluids: What may be drained in this job.
    """
    drained = (FILLINGS[fluid].tag for fluid in fluids if fluid in FILLINGS)
    parted = (rule.tag for rule in TAGS.values() if rule.work or rule.found)
    return tuple(dict.fromkeys((*parted, *drained)))
