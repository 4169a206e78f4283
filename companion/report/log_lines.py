"""A log as lines to read, one a record."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

from companion.job.record import Record
from companion.log.followed import follows, state_of
from companion.log.reader import read_log
from companion.speak.worded.table import event_line


@follows
def log_lines(folder: Path) -> list[str]:
    """Return a log as lines to print: number, time, what happened; a line of its own a new day.

    Raises:
        CompanionError: As ``read_log``.
    """
    contents = read_log(folder)
    superseded = state_of(folder, contents.records).superseded
    lines: list[str] = []
    day: date | None = None
    for record in contents.records:
        if record.at.date() != day:
            day = record.at.date()
            lines.append(f"{day:%A} {day.day} {day:%B %Y}")
        lines.append(record_line(record, superseded.get(record.seq)))
    if contents.recovered is not None:
        lines.append(contents.recovered)
    return lines


@follows
def log_values(folder: Path) -> list[dict[str, Any]]:
    """Return a log for JSON, one object a record: the event whole, and its line.

    Raises:
        CompanionError: As ``read_log``.
    """
    records = read_log(folder).records
    superseded = state_of(folder, records).superseded
    return [
        {
            "record": each.seq,
            "at": each.at.isoformat(),
            "line": event_line(each.event),
            "superseded": superseded.get(each.seq),
            "event": each.event.model_dump(mode="json"),
        }
        for each in records
    ]


def record_line(record: Record, superseded: str | None = None) -> str:
    """Return a record as a line.

    Args:
        record: To show.
        superseded: Why it no longer counts, if so: "corrected" or "disregarded".
    """
    cause = f"  (from {record.event.heard})" if record.event.heard is not None else ""
    mark = f"  [{superseded}]" if superseded else ""
    offset = record.at.isoformat()[-6:].replace("-00:00", "+00:00")
    return f"{record.seq:>5}  {record.at:%H:%M:%S}{offset}  {event_line(record.event)}{cause}{mark}"
