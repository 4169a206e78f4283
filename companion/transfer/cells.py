"""Values of the log as cells of a table: what no table can hold becomes an empty cell or a mark."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from companion.transfer.columns import Kind, Table

Cell = str | int | float | bool | datetime | None
Row = tuple[Cell, ...]
"""A cell a column, in their order."""

LARGEST_WHOLE = 2**63 - 1
"""What 64 bits hold."""

MOST_DIGITS = 40
"""Decimals with a larger exponent are written with it; no bench calls one."""


def row_of(table: Table, values: Mapping[str, Any]) -> Row:
    """Return the row of a table that holds these values by column name; the rest stays empty."""
    return tuple(_CELLS[column.kind](values.get(column.name)) for column in table.columns)


def exact_text(value: Decimal) -> str:
    """Write a decimal with every digit that it has."""
    exponent = value.as_tuple().exponent
    plain = isinstance(exponent, int) and -MOST_DIGITS <= exponent <= MOST_DIGITS
    return format(value, "f") if plain else str(value)


def _text(value: Any) -> Cell:
    if value is None:
        return None
    text = str(value)
    # Half of a surrogate pair cannot be encoded.
    return text if text.isascii() else text.encode("utf-8", "replace").decode()


def _whole(value: Any) -> Cell:
    return value if isinstance(value, int) and abs(value) <= LARGEST_WHOLE else None


def _number(value: Any) -> Cell:
    if value is None:
        return None
    try:
        number = float(value)
    except OverflowError:
        return None
    return number if math.isfinite(number) else None


def _exact(value: Any) -> Cell:
    return exact_text(value) if isinstance(value, Decimal) else None


def _truth(value: Any) -> Cell:
    return None if value is None else bool(value)


def _time(value: Any) -> Cell:
    if not isinstance(value, datetime):
        return None
    try:
        return value.astimezone(UTC)
    except OverflowError:
        # At either end of the calendar another offset would lead out of it.
        return None


_CELLS: Mapping[Kind, Callable[[Any], Cell]] = {
    "text": _text,
    "whole": _whole,
    "number": _number,
    "exact": _exact,
    "truth": _truth,
    "time": _time,
    "json": _text,
}
