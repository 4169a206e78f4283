"""Tables as one workbook for spreadsheets: a sheet a table.

Every cell is written as what it is; nothing becomes a formula or a link. An exact decimal that a
double holds is a number there, another stays text.
"""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any, BinaryIO

from companion.log.spreadsheet import printable
from companion.transfer.cells import Cell, Row
from companion.transfer.columns import Column, Table

ROWS_A_SHEET = 1_048_576
"""Rows that a sheet can have, the header among them (ECMA-376 files as spreadsheets read them)."""

LONGEST_TEXT = 32_767
"""Characters that a cell can have."""

DIGITS_HELD = 15
"""Decimal digits that every double holds."""

FIRST_YEAR = 1900
"""Of the calendar of spreadsheets."""


class XlsxBook:
    """Writes all tables to one workbook.

    Args:
        file: The workbook.
        folder: Where the rows are kept until the end, so that they are not held in memory.
        rows_a_sheet: After so many rows a table goes on on another sheet.
    """

    def __init__(self, file: BinaryIO, folder: str, rows_a_sheet: int = ROWS_A_SHEET) -> None:
        import xlsxwriter

        self._book: Any = xlsxwriter.Workbook(
            file,
            {
                "constant_memory": True,
                "tmpdir": folder,
                "strings_to_formulas": False,
                "strings_to_urls": False,
                "strings_to_numbers": False,
            },
        )
        self._most = rows_a_sheet
        self._header = self._book.add_format({"bold": True})
        self._time = self._book.add_format({"num_format": "yyyy-mm-dd hh:mm:ss"})
        self._sheets: dict[str, Any] = {}
        self._rows: dict[str, int] = {}
        self._turns: dict[str, int] = {}

    def begin(self, table: Table) -> None:
        """Begin a sheet: the header stays in sight."""
        turn = self._turns[table.name] = self._turns.get(table.name, 0) + 1
        sheet = self._book.add_worksheet(table.name if turn == 1 else f"{table.name} {turn}")
        sheet.freeze_panes(1, 0)
        for place, column in enumerate(table.columns):
            sheet.set_column(place, place, column.width)
            name = f"{column.name} ({column.unit})" if column.unit else column.name
            sheet.write_string(0, place, name, self._header)
        self._sheets[table.name], self._rows[table.name] = sheet, 1

    def add(self, table: Table, row: Row) -> None:
        """Write a row."""
        if self._rows[table.name] >= self._most:
            self.begin(table)
        sheet, at = self._sheets[table.name], self._rows[table.name]
        for place, (column, cell) in enumerate(zip(table.columns, row, strict=True)):
            self._write(sheet, at, place, column, cell)
        self._rows[table.name] = at + 1

    def end(self) -> None:
        """Put the workbook together.

        Raises:
            OSError: If it cannot be written.
        """
        from xlsxwriter.exceptions import XlsxWriterException

        try:
            self._book.close()
        except XlsxWriterException as error:
            cause = error.args[0] if error.args else None
            raise cause if isinstance(cause, OSError) else OSError(str(error)) from None

    def give_up(self) -> None:
        """Keep the workbook from being put together after all."""
        self._book.fileclosed = True

    def _write(self, sheet: Any, row: int, place: int, column: Column, cell: Cell) -> None:
        if cell is None:
            return
        if isinstance(cell, bool):
            sheet.write_boolean(row, place, cell)
        elif isinstance(cell, datetime) and cell.year >= FIRST_YEAR:
            sheet.write_datetime(row, place, cell.replace(tzinfo=None), self._time)
        elif column.kind == "exact" and held_exactly(str(cell)):
            sheet.write_number(row, place, float(str(cell)))
        elif isinstance(cell, int | float):
            sheet.write_number(row, place, cell)
        else:
            sheet.write_string(row, place, _fitting(printable(str(cell))))


CUT = " … (cut here; CSV, JSON and Parquet have all of it)"
"""Ends a text that is longer than a cell."""


def _fitting(text: str) -> str:
    return text if len(text) <= LONGEST_TEXT else text[: LONGEST_TEXT - len(CUT)] + CUT


def held_exactly(digits: str) -> bool:
    """Whether a spreadsheet shows this decimal as it is: neither a digit nor a zero gets lost."""
    value = Decimal(digits)
    return len(value.as_tuple().digits) <= DIGITS_HELD and repr(float(value)) in (
        digits,
        f"{digits}.0",
    )
