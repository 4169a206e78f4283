"""The table of cautions: what is warned of, and what calls for it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from typing import Literal, get_args

from companion.job.sheet import SheetModel

Occasion = Literal[
    "job opened", "step", "drained", "added", "work", "finding", "reading", "spec asked",
    "part used", "tag hung", "start affirmed", "engine running", "engine stopped",
]  # fmt: skip
"""What can call for a caution."""

Condition = Literal["hot", "plug wire on", "engine running", "engine stopped"]
"""What may have to hold besides."""

Again = Literal["once", "engine started", "plug wire on", "each step", "each time"]
"""What makes a caution worth saying again in the same job."""

AGAIN_IN_WORDS: Mapping[Again, str] = {
    "once": "once a job",
    "engine started": "again once engine started",
    "plug wire on": "again once plug wire on",
    "each step": "again at each step",
    "each time": "each time",
}
"""How often a caution is said, in words."""

FILTERS: Mapping[Occasion, tuple[str, ...]] = {
    "job opened": (),
    "step": ("hangs", "points", "words", "measures", "about", "unless", "machines"),
    "drained": ("fluids", "machines"),
    "added": ("fluids", "machines"),
    "work": ("actions", "parts", "kinds", "unless", "machines"),
    "finding": ("parts", "kinds", "conditions", "unless", "machines"),
    "reading": ("measures", "machines"),
    "spec asked": ("measures", "machines"),
    "part used": ("parts", "kinds", "unless", "machines"),
    "tag hung": ("tags", "machines"),
    "start affirmed": ("machines",),
    "engine running": ("machines",),
    "engine stopped": ("machines",),
}
"""What each occasion can be narrowed by."""

LEADS = ("hangs", "points", "words", "measures")
"""By what a step calls for a caution: any of these. What else narrows a step only narrows it."""

LONGEST_TEXT_WORDS = 14
"""Fourteen words took up to 5.6 s to say at 170 words a minute; more is not taken in beside an
engine, and leaves no room for the step that it belongs to."""

_NARROWED = {
    "hangs": "hangs {}",
    "points": "has a point {}",
    "words": "says {}",
    "measures": "measures {}",
    "about": "is about {}",
    "fluids": "of {}",
    "actions": "{}",
    "parts": "on {}",
    "kinds": "on a {}",
    "conditions": "called {}",
    "tags": "{}",
    "unless": "but not {}",
    "machines": "of a {}",
}
"""How each narrowing is said."""


class Trigger(SheetModel):
    """One occasion that calls for a caution."""

    on: Occasion
    """What has just happened."""
    hangs: tuple[str, ...] = ()
    """Tags, any of which the step hangs."""
    points: tuple[str, ...] = ()
    """Words, any of which is in a point that the step ticks off."""
    words: tuple[str, ...] = ()
    """Words, any of which is in what the step says."""
    measures: tuple[str, ...] = ()
    """Measures, any of which was read or asked for, or is wanted by the step."""
    about: tuple[str, ...] = ()
    """Words, any of which must be besides in what the step says, ticks off or works on."""
    fluids: tuple[str, ...] = ()
    """Fluids; any if empty."""
    actions: tuple[str, ...] = ()
    """Work done; any if empty."""
    parts: tuple[str, ...] = ()
    """Words, any of which is in the name of the part; any part if empty."""
    kinds: tuple[str, ...] = ()
    """Words that the name of the part ends with, in the singular: ``auger`` is no auger guard."""
    conditions: tuple[str, ...] = ()
    """What was found; anything if empty."""
    tags: tuple[str, ...] = ()
    """Tags; any if empty."""
    unless: tuple[str, ...] = ()
    """Words that look alike and mean something else: they are overlooked."""
    machines: tuple[str, ...] = ()
    """Words, any of which says on the spec sheet or the card what the machine is; any if empty."""
    when: tuple[Condition, ...] = ()
    """What must hold besides, all of it."""
    again: Again | None = None
    """What makes it worth saying again on this occasion; that of the caution if left out."""

    def in_words(self) -> str:
        """Say what it waits for: "step: hangs no oil or says drain; while hot"."""
        given = {
            key: _NARROWED[key].format(" or ".join(getattr(self, key)))
            for key in FILTERS[self.on]
            if getattr(self, key)
        }
        leads = [words for key, words in given.items() if self.on == "step" and key in LEADS]
        rest = [words for key, words in given.items() if self.on != "step" or key not in LEADS]
        joined = " ".join([*([" or ".join(leads)] if leads else []), *rest])
        state = f"; while {' and '.join(self.when)}" if self.when else ""
        again = f"; {AGAIN_IN_WORDS[self.again]}" if self.again is not None else ""
        return f"{self.on}{': ' if joined else ''}{joined}{state}{again}"


class Caution(SheetModel):
    """One caution."""

    name: str
    """Short, for the log."""
    text: str
    """What is spoken."""
    source: str
    """Where it is from, or ``common practice``."""
    again: Again = "once"
    """What makes it worth saying again."""
    stops: bool = False
    """Whether it is no caution but a warning: the engine must be stopped first, and it is said each
    time."""
    trigger: tuple[Trigger, ...]
    """What calls for it: any of these."""


class CautionTable(SheetModel):
    """The whole of ``cautions.toml``."""

    caution: tuple[Caution, ...]


@cache
def any_of(phrases: tuple[str, ...]) -> re.Pattern[str]:
    """Return a pattern that finds any of these as whole words in a lower-case text."""
    return re.compile(r"\b(?:" + "|".join(re.escape(each) for each in phrases) + r")\b")


OCCASIONS: tuple[Occasion, ...] = get_args(Occasion)
"""Every occasion."""
