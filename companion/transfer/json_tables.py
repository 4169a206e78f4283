"""Tables as JSON Lines: an object a row, in UTF-8; exact decimals are strings."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime
from typing import BinaryIO

from companion.transfer.cells import Cell, Row
from companion.transfer.columns import Column, Table
from companion.transfer.csv_tables import instant


class JsonTables:
    """Writes each table to its own file; the argument opens the one of a table."""

    suffix = ".jsonl"

    def __init__(self, open_file: Callable[[Table], BinaryIO]) -> None:
        self._open_file = open_file
        self._files: dict[str, BinaryIO] = {}

    def begin(self, table: Table) -> None:
        """Open its file."""
        self._files[table.name] = self._open_file(table)

    def add(self, table: Table, row: Row) -> None:
        """Write a row."""
        cells = ",".join(
            f'"{column.name}":{_value(column, cell)}'
            for column, cell in zip(table.columns, row, strict=True)
        )
        self._files[table.name].write(f"{{{cells}}}\n".encode())

    def end(self) -> None:
        """Nothing is left to write."""

    def give_up(self) -> None:
        """Nothing is to be undone."""


def _value(column: Column, cell: Cell) -> str:
    if column.kind == "json" and isinstance(cell, str):
        # It is JSON already.
        return cell
    return json.dumps(instant(cell) if isinstance(cell, datetime) else cell, ensure_ascii=False)
