"""What every kind of part does to the start under every action and condition.

The first row that fits a call decides. The last rows fit every part, so that every call finds a
row, and what no row excepts holds the start. ``dangers.toml`` says what may stand in a row.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

from companion.job.sheet import SheetModel

PLUG_WIRE_OFF = "plug wire off"
"""The tag that says that the engine cannot fire."""

LOG_UNREAD = "log unread"
"""The tag that says that a log of the machine cannot be read."""

ALWAYS_MENDED = ("replaced", "repaired")
"""What ends every finding."""

Left = Literal["off", "loose", "open", "shut", "raised"]
"""What work can leave a part as."""

SEVERAL = (
    *("bolt", "nut", "screw", "clamp", "fastener", "stud"),
    *("pin", "wheel", "tine", "knife"),
)
"""Parts of which there are several, so that each call of one is of another."""


class TagText(SheetModel):
    """A "do not start" tag."""

    tag: str
    """Its name, as it is called."""
    why: str
    """Why nobody may start the engine while it hangs; a sentence."""


class FluidRow(SheetModel):
    """A fluid whose draining hangs a tag."""

    fluid: str
    """As fluid calls name it."""
    tag: str
    """The tag that hangs from draining on."""
    level_needed: bool = False
    """Whether only a level called full shows that enough is in."""


class WorkRow(SheetModel):
    """What work leaves a part as, and what ends that."""

    parts: tuple[str, ...] = ()
    """Whole names or their last words; with "=" before it the whole name only. None: every part."""
    actions: tuple[str, ...] = ()
    """As work calls name them; empty: every one."""
    left: Left | None = None
    """What the part is left as."""
    back: tuple[str, ...] = ()
    """Work on the same part that ends it, the plainest first."""
    tag: str | None = None
    """The tag that hangs meanwhile."""
    harmless: str | None = None
    """Why it holds nothing; a sentence."""

    def fits(self, part: str, action: str) -> bool:
        """Return whether the row is of this call."""
        return (not self.actions or action in self.actions) and names(self.parts, part)


class FoundRow(SheetModel):
    """What a finding needs before the engine may be started."""

    parts: tuple[str, ...] = ()
    """As in ``WorkRow``."""
    conditions: tuple[str, ...] = ()
    """As findings name them; empty: every one."""
    mended: tuple[str, ...] = ()
    """Work on the same part that ends it, besides ``ALWAYS_MENDED``."""
    tag: str | None = None
    """The tag that hangs meanwhile; None where it holds by its name alone."""
    harmless: str | None = None
    """Why it holds nothing; a sentence."""

    def fits(self, part: str, condition: str) -> bool:
        """Return whether the row is of this finding."""
        return (not self.conditions or condition in self.conditions) and names(self.parts, part)

    @property
    def mended_by(self) -> tuple[str, ...]:
        """All that ends it, the plainest first."""
        return (*self.mended, *ALWAYS_MENDED)


class DangerFile(SheetModel):
    """The whole of ``dangers.toml``."""

    tag: tuple[TagText, ...]
    fluid: tuple[FluidRow, ...] = ()
    work: tuple[WorkRow, ...]
    found: tuple[FoundRow, ...]


@dataclass(frozen=True)
class DangerTable:
    """The rows, ready to be asked.

    Attributes:
        rows: As they stand in the file.
    """

    rows: DangerFile
    # Every call looks up every fact of the job, so answers are kept.
    _work: dict[tuple[str, str], WorkRow] = field(default_factory=dict, compare=False, repr=False)
    _found: dict[tuple[str, str], FoundRow] = field(default_factory=dict, compare=False, repr=False)

    def work(self, part: str, action: str) -> WorkRow:
        """Return the row that decides what an action leaves a part as."""
        row = self._work.get((part, action))
        if row is None:
            row = next(row for row in self.rows.work if row.fits(part, action))
            self._work[part, action] = row
        return row

    def found(self, part: str, condition: str) -> FoundRow:
        """Return the row that decides what a finding needs."""
        row = self._found.get((part, condition))
        if row is None:
            row = next(row for row in self.rows.found if row.fits(part, condition))
            self._found[part, condition] = row
        return row

    @cached_property
    def why(self) -> Mapping[str, str]:
        """By tag, why nobody may start the engine while it hangs."""
        return {each.tag: each.why for each in self.rows.tag}

    @cached_property
    def fluids(self) -> Mapping[str, FluidRow]:
        """By fluid, the tag that draining it hangs."""
        return {each.fluid: each for each in self.rows.fluid}

    def fluids_of(self, tag: str) -> tuple[FluidRow, ...]:
        """Return the fluids whose draining hangs a tag."""
        return tuple(each for each in self.rows.fluid if each.tag == tag)

    @cached_property
    def tags_of_parts(self) -> tuple[str, ...]:
        """The tags that work or a finding hangs by itself."""
        tags = [*(row.tag for row in self.rows.work), *(row.tag for row in self.rows.found)]
        return tuple(dict.fromkeys(tag for tag in tags if tag is not None))

    def tags_ended_by(self, part: str, action: str) -> tuple[str, ...]:
        """Return the tags that this work on this part may end."""
        found = []
        for row in self.rows.work:
            fits = any(self.work(part, each) is row for each in row.actions)
            if row.tag is not None and action in row.back and fits:
                found.append(row.tag)
        for finding in self.rows.found:
            fits = names(finding.parts, part) and action in finding.mended_by
            if finding.tag is not None and fits:
                found.append(finding.tag)
        return tuple(dict.fromkeys(found))

    def tags_that_may_hang(self, fluids: Iterable[str]) -> tuple[str, ...]:
        """Return the tags that calls may hang by themselves, so that each can be called.

        Args:
            fluids: What may be drained in this job.
        """
        drained = (self.fluids[fluid].tag for fluid in fluids if fluid in self.fluids)
        return tuple(dict.fromkeys((*self.tags_of_parts, *drained, LOG_UNREAD)))


def names(parts: tuple[str, ...], part: str) -> bool:
    """Return whether a part is one of these; every part is where none are given."""
    return not parts or any(
        part == each[1:] if each.startswith("=") else part == each or part.endswith(f" {each}")
        for each in parts
    )
