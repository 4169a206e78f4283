"""What is remarked about a reading besides its verdict, and how long ago that was, in words."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal

from companion.job.earlier import Past
from companion.job.events import ReadingRecorded
from companion.job.remark import Apart, Changed, EngineNotAsWanted, LastTime, Remark
from companion.speak.numbers import amount_words, number_words, without_needless_zeros
from companion.speak.speakable import sentence

WORDS_SAID = 22
"""A remark that would make a readback longer than this is left to the report, unless it is the
first: eight seconds are soon over, and the weightiest comes first."""

MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip

DAYS_COUNTED, WEEKS_COUNTED, MONTH_COUNTED = 13, 55, 330
"""Days up to which a time is told in days, in weeks, and by its month alone."""


def remarks_said(event: ReadingRecorded, after: str) -> tuple[str, ...]:
    """Return the sentences that follow the verdict of a reading.

    Args:
        event: The reading.
        after: What is said before them.
    """
    said: list[str] = []
    for remark in event.remarks:
        words = _remark(remark)
        if said and len(" ".join((after, *said, words)).split()) > WORDS_SAID:
            break
        said.append(words)
    return tuple(said)


def before_words(before: Past) -> str:
    """Say what a measure was in an earlier session: "Nine days ago, thirty thou."."""
    said = amount_words(before.value, before.unit)
    return sentence(f"{when_words(before.at, before.days)}, {said}")


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


def _remark(remark: Remark) -> str:
    match remark:
        case EngineNotAsWanted(wanted="cold"):
            return "Wanted cold: the engine counts as hot."
        case EngineNotAsWanted():
            return "Wanted hot: the engine does not count as hot."
        case Apart():
            other = remark.other or "the one before"
            return sentence(f"{number_words(Decimal(remark.percent))} percent off {other}")
        case Changed():
            way = "up" if remark.by > 0 else "down"
            by = number_words(without_needless_zeros(abs(remark.by)))
            return sentence(f"{way} {by} {since_words(remark.at, remark.days)}")
        case LastTime():
            last = amount_words(remark.value, remark.unit)
            return sentence(f"not from the maker: {when_words(remark.at, remark.days)}, {last}")


def _last_year(at: datetime, days: int) -> bool:
    """Whether the year before this one is meant; where it is this year's month still, it is told
    in years."""
    return (at + timedelta(days=days)).year == at.year + 1


def _length(days: int) -> str:
    """A number of days as a person would say it."""
    for size, unit in ((365, "year"), (7, "week"), (1, "day")):
        if days >= size and not (unit == "week" and days <= DAYS_COUNTED):
            count = round(days / size)
            return f"{number_words(Decimal(count))} {unit}{'' if count == 1 else 's'}"
    return "no time"
