"""The tables that decide what is dangerous and what is warned of; a job's state carries them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from companion.job.caution_table import Caution, load_cautions
from companion.job.danger_table import DangerTable, load_dangers


@dataclass(frozen=True, slots=True)
class Rules:
    """What a job is decided by besides its log.

    Attributes:
        dangers: What holds the start, and what ends it.
        cautions: What is warned of, and when, in the order in which it is spoken.
    """

    dangers: DangerTable
    cautions: tuple[Caution, ...]


@cache
def shipped_rules() -> Rules:
    """Return the tables that travel with the program; they are read when this is first called.

    Raises:
        CompanionError: If one of them is damaged, with file, line and reason.
    """
    return Rules(load_dangers(), load_cautions())
