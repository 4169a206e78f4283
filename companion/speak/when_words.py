"""How long ago something was, in words."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal

from companion.speak.numbers import number_words

MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip

DAYS_COUNTED, WEEKS_COUNTED, MONTH_COUNTED = 13, 55, 330
"""Days up to which a time is told in days, in weeks, and by its month alone."""


def when_words(at: datetime, days: int) -> str:
    """Say when something was: "yesterday", "five weeks ago", "in March".

    Args:
        at: When it was.
        days: How many days ago.
    """
    month = MONTHS[at.month - 1]
    if days == 0:
        return "earlier today"
    if days == 1:
        return "yesterday"
    if days <= WEEKS_COUNTED:
        return f"{_length(days)} ago"
    if days <= MONTH_COUNTED:
        return f"in {month}"
    return f"in {month} last year" if _last_year(at, days) else f"{_length(days)} ago"


def since_words(at: datetime, days: int) -> str:
    """Say since when something changed: "since yesterday", "in five weeks", "since March"."""
    month = MONTHS[at.month - 1]
    if days == 0:
        return "since earlier today"
    if days == 1:
        return "since yesterday"
    if days <= WEEKS_COUNTED:
        return f"in {_length(days)}"
    if days <= MONTH_COUNTED:
        return f"since {month}"
    return f"since {month} last year" if _last_year(at, days) else f"in {_length(days)}"


def _last_year(at: datetime, days: int) -> bool:
    """Whether a month of last year is meant; the same month as now is told in years instead."""
    try:
        return (at + timedelta(days=days)).year == at.year + 1
    except OverflowError:
        # A log may hold any number.
        return False


def _length(days: int) -> str:
    """A number of days as a person would say it."""
    for size, unit in ((365, "year"), (7, "week"), (1, "day")):
        if days >= size and not (unit == "week" and days <= DAYS_COUNTED):
            count = round(days / size)
            return f"{number_words(Decimal(count))} {unit}{'' if count == 1 else 's'}"
    return "no time"
