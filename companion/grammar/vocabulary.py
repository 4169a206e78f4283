"""The words that change with the job: measures, parts, fluids, conditions, tags and timers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

Dimension = Literal[
    "length", "pressure", "torque", "temperature", "voltage", "resistance", "speed", "percent"
]
"""What a measure is measured in; each has its own units, so that no gap is ever heard in psi."""


@dataclass(frozen=True, slots=True)
class Term:
    """A name and the ways to say it.

    Attributes:
        name: The name that is recorded: singular, lower case, single spaces.
        spoken: Every way to say it in the singular, in lower-case words; the name itself if empty.
        plural: Ways to say it in the plural; formed from ``spoken`` by the usual rule if empty.
    """

    name: str
    spoken: tuple[str, ...] = ()
    plural: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """The words of one loaded job, added to those that are always listened for.

    Attributes:
        measures: For each dimension, what can be measured in it.
        parts: Whatever can be broken, tightened, replaced or needed.
        points: Named points to tick off ("grease point three"); treated as parts by work calls.
        fluids: Whatever is drained and added.
        conditions: What can be wrong with a part.
        tags: The texts of "do not start" tags.
        timers: Names of timers.
        call_sign: The word that opens a call in open-mic mode.
    """

    measures: Mapping[Dimension, tuple[Term, ...]] = field(
        default_factory=lambda: MappingProxyType({})
    )
    parts: tuple[Term, ...] = ()
    points: tuple[Term, ...] = ()
    fluids: tuple[Term, ...] = ()
    conditions: tuple[Term, ...] = ()
    tags: tuple[Term, ...] = ()
    timers: tuple[Term, ...] = ()
    call_sign: str = "bench"
