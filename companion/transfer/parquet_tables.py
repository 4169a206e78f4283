"""Tables as Parquet, with types, and what each column is about in the file itself.

Exact decimals are strings, because no fixed number of digits holds whatever is called; the column
with ``_number`` after its name has the double. Instants are microseconds with the zone UTC. The
columns are the same in every file, so that those of several shops can be read as one table.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, BinaryIO

from companion.errors import CompanionError
from companion.installed import to_add_extra
from companion.transfer.cells import Row
from companion.transfer.columns import Column, Kind, Table

ROWS_AT_ONCE = 10_000
"""Rows that are held before they are written as one group."""


class ParquetTables:
    """Writes each table to its own file; the argument opens the one of a table.

    Raises:
        CompanionError: If pyarrow is not installed.
    """

    suffix = ".parquet"

    def __init__(self, open_file: Callable[[Table], BinaryIO]) -> None:
        try:
            import pyarrow
            import pyarrow.parquet
        except ImportError:
            raise CompanionError(
                "Parquet is written by the Python package pyarrow, which is not installed; choose "
                f"--form csv, or install it with: {to_add_extra('parquet')}"
            ) from None
        self._arrow: Any = pyarrow
        self._open_file = open_file
        self._writers: dict[str, Any] = {}
        self._waiting: dict[str, list[Row]] = {}
        types = {
            "text": pyarrow.string(),
            "whole": pyarrow.int64(),
            "number": pyarrow.float64(),
            "exact": pyarrow.string(),
            "truth": pyarrow.bool_(),
            "time": pyarrow.timestamp("us", tz="UTC"),
            "json": pyarrow.string(),
        }
        self._types: Mapping[Kind, Any] = types  # type: ignore[assignment]

    def begin(self, table: Table) -> None:
        """Open its file with its schema."""
        schema = self._arrow.schema([self._field(column) for column in table.columns])
        schema = schema.with_metadata({"table": table.name, "about": table.about})
        self._writers[table.name] = self._arrow.parquet.ParquetWriter(
            self._open_file(table), schema
        )
        self._waiting[table.name] = []

    def add(self, table: Table, row: Row) -> None:
        """Take a row."""
        waiting = self._waiting[table.name]
        waiting.append(row)
        if len(waiting) >= ROWS_AT_ONCE:
            self._write(table.name)

    def end(self) -> None:
        """Write what waits, and the ends of the files."""
        for name, writer in self._writers.items():
            self._write(name)
            writer.close()

    def give_up(self) -> None:
        """Keep the writers from writing to files that are gone."""
        for writer in self._writers.values():
            writer.is_open = False

    def _write(self, name: str) -> None:
        waiting, writer = self._waiting[name], self._writers[name]
        if not waiting:
            return
        columns = [
            self._arrow.array(values, type=field.type)
            for values, field in zip(zip(*waiting, strict=True), writer.schema, strict=True)
        ]
        writer.write_batch(self._arrow.record_batch(columns, schema=writer.schema))
        self._waiting[name] = []

    def _field(self, column: Column) -> Any:
        about = {"about": column.about, **({"unit": column.unit} if column.unit else {})}
        return self._arrow.field(column.name, self._types[column.kind], metadata=about)
