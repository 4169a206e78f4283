"""An event with its place in the log and its time: what the state is folded from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from companion.job.events import AnyEvent, PhotoAdded, Reviewed, SignedOff, WorkOrderKept

PAPERS = frozenset({PhotoAdded, WorkOrderKept, Reviewed, SignedOff})
"""Records that are added to a job or written in a review, often long after it; they are no work on
the machine."""


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


def is_work(record: Record) -> bool:
    """Return whether a record is of the bench, and not of what was laid beside the job later."""
    return record.event.reviewed is None and type(record.event) not in PAPERS


def worked_until(records: Iterable[Record]) -> datetime:
    """Return when a job was last worked on; what was laid beside it or put right later does not
    count.

    Not simply the last record's time: the clock may have been set back in between.

    Args:
        records: At least one.
    """
    records = tuple(records)
    worked = [record.at for record in records if is_work(record)]
    return max(worked or (record.at for record in records))
