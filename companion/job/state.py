"""What a job is, folded from its records."""
# CONTRACT STUB: the job room's owner fills this in; ``evolve``, ``fold`` and ``State.start`` bind.
from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from companion.job.record import Record


@dataclass(frozen=True, slots=True)
class State:
    """Immutable; every collection is a tuple or a mapping that is replaced, never changed."""


def evolve(state: State, record: Record) -> State:
    """The state after one more record."""
    raise NotImplementedError


def fold(records: Iterable[Record]) -> State:
    """The state after all these records, from nothing."""
    raise NotImplementedError
