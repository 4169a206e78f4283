"""An event with its place in the log and its time: what the state is folded from."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from companion.job.events import AnyEvent


@dataclass(frozen=True, slots=True)
class Record:
    """One line of the log, without the chain.

    Attributes:
        seq: Number of the record in its log, from 1.
        at: When, with its offset from UTC.
        event: What happened.
    """

    seq: int
    at: datetime
    event: AnyEvent
