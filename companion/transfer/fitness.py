"""Whether a log from elsewhere can be followed: a true chain may still hold what no bench writes,
and one such log would stop whatever reads all sessions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from decimal import Decimal, InvalidOperation
from typing import Any

from companion.errors import CompanionError
from companion.handbook.units import to_si
from companion.job.events import (
    EarlierReading,
    FluidMoved,
    MachineKnown,
    ReadingRecorded,
    SessionOpened,
)
from companion.job.folding.evolve import fold
from companion.job.record import Record
from companion.shelf.rules import shipped_rules

MOST_TENS = 1000
"""Powers of ten that a figure may have: written out, one with a billion of them fills any memory.
Our own limit; no bench reads more than a dozen."""

LONGEST_FIGURE = 60
"""Characters of a text that may be a figure."""

YEARS = range(1970, 2201)
"""Years in which things may have happened: further out, no offset from UTC can be reckoned."""


def why_unfit(records: Sequence[Record]) -> str | None:
    """Say why a log cannot be followed; None where it can.

    Args:
        records: All of it, in order.

    Returns:
        What is wrong, to complete "record 7 …" or "it …".
    """
    for record in records:
        for value in (record.at, *_values(record)):
            if isinstance(value, datetime):
                if value.tzinfo is None or value.year not in YEARS:
                    return f"record {record.seq} has a time that is on no shop's clock"
            elif _is_boundless(value):
                return f"record {record.seq} has a figure beyond all measure"
        for measured in _measured(record):
            try:
                to_si(measured.value, measured.unit)
            except (ValueError, ArithmeticError):
                return f"record {record.seq} has a unit that the bench does not use"
    try:
        fold(records, shipped_rules())
    except (CompanionError, ArithmeticError, LookupError, TypeError, ValueError):
        return "its records cannot be followed by this version of Bench Companion"
    return None


def _measured(record: Record) -> Iterator[ReadingRecorded | FluidMoved | EarlierReading]:
    event = record.event
    if isinstance(event, SessionOpened):
        yield from event.earlier
    facts = [fact.event for fact in event.facts] if isinstance(event, MachineKnown) else [event]
    for fact in facts:
        if isinstance(fact, ReadingRecorded | FluidMoved):
            yield fact


def _values(record: Record) -> Iterator[Decimal | str | datetime]:
    """Every time in an event, and every value that is, or may become, a decimal."""
    # Card and sheet are kept as they were written, with their figures as text.
    with_text = isinstance(record.event, SessionOpened)
    waiting: list[Any] = [record.event.model_dump()]
    while waiting:
        value = waiting.pop()
        if isinstance(value, dict):
            waiting += value.values()
        elif isinstance(value, list | tuple):
            waiting += value
        elif isinstance(value, Decimal | datetime) or (with_text and isinstance(value, str)):
            yield value


def _is_boundless(value: Decimal | str) -> bool:
    if isinstance(value, str):
        if len(value) > LONGEST_FIGURE:
            return False
        try:
            value = Decimal(value)
        except InvalidOperation:
            return False
    exponent = value.as_tuple().exponent
    return value.is_finite() and isinstance(exponent, int) and abs(exponent) > MOST_TENS
