"""Tables as comma-separated values by RFC 4180, in UTF-8.

Text stands in quotes, everything else without; an empty cell without quotes is none at all, one
with quotes an empty text. What a spreadsheet would take for a formula is defused
(``companion.log.spreadsheet.harmless``); numbers stay numbers.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import BinaryIO

from companion.log.spreadsheet import harmless, printable
from companion.transfer.cells import Cell, Row
from companion.transfer.columns import Table


class CsvTables:
    """Writes each table to its own file; the argument opens the one of a table."""

    suffix = ".csv"

    def __init__(self, open_file: Callable[[Table], BinaryIO]) -> None:
        self._open_file = open_file
        self._files: dict[str, BinaryIO] = {}

    def begin(self, table: Table) -> None:
        """Write the header."""
        file = self._files[table.name] = self._open_file(table)
        file.write((",".join(_quoted(column.name) for column in table.columns) + "\r\n").encode())

    def add(self, table: Table, row: Row) -> None:
        """Write a row."""
        cells = (
            _number(cell) if column.kind == "exact" else _cell(cell)
            for column, cell in zip(table.columns, row, strict=True)
        )
        self._files[table.name].write((",".join(cells) + "\r\n").encode())

    def end(self) -> None:
        """Nothing is left to write."""

    def give_up(self) -> None:
        """Nothing is to be undone."""


def _number(cell: Cell) -> str:
    # Written with digits, a sign and a point, whatever the exponent.
    return "" if cell is None else str(cell)


def _cell(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, datetime):
        return instant(cell)
    if isinstance(cell, str):
        return _quoted(harmless(printable(cell)))
    return repr(cell)


def _quoted(text: str) -> str:
    return '"' + text.replace('"', '""') + '"'


def instant(at: datetime) -> str:
    """Write an instant in UTC as RFC 3339 has it, to the microsecond."""
    return f"{at.replace(tzinfo=None).isoformat(timespec='microseconds')}Z"
