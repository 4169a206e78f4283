"""How many days lie between two times at the bench."""

from __future__ import annotations

from datetime import datetime


def days_between(before: datetime, at: datetime) -> int:
    """Return by how many days the calendar moved on; never negative, though a clock may be."""
    return max(0, (at.date() - before.astimezone(at.tzinfo).date()).days)
