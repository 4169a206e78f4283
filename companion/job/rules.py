"""The tables that decide what is dangerous and what is warned of; a job's state carries them."""

from __future__ import annotations

from dataclasses import dataclass

from companion.job.caution_table import Caution
from companion.job.danger_table import DangerTable


@dataclass(frozen=True, slots=True)
class Rules:
    """What a job is decided by besides its log.

    Attributes:
        dangers: What holds the start, and what ends it.
        cautions: What is warned of, and when, in the order in which it is spoken.
    """

    dangers: DangerTable
    cautions: tuple[Caution, ...]
