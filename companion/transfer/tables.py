"""The tables of the chosen sessions, written to files, a session at a time."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO, Literal, Protocol

from companion.errors import CompanionError, WrongUse
from companion.files.disk import FOLDER_MODE, sync_folder
from companion.files.fresh import FreshFiles
from companion.log.followed import followed
from companion.transfer.cells import Row
from companion.transfer.chosen import Chosen
from companion.transfer.columns import TABLES, Table
from companion.transfer.csv_tables import CsvTables
from companion.transfer.json_tables import JsonTables
from companion.transfer.parquet_tables import ParquetTables
from companion.transfer.rows import read_session, rows_of
from companion.transfer.xlsx_book import XlsxBook

Form = Literal["csv", "json", "parquet", "xlsx"]
BOOK = "tables.xlsx"
"""Name of the workbook in the folder of the tables."""


FILE_SUFFIXES = (".csv", ".json", ".jsonl", ".parquet", ".xlsx", ".zip")
"""Ends of names that mean a file."""


class Tables(Protocol):
    """What takes the rows of tables in one form."""

    def begin(self, table: Table) -> None:
        """Prepare a table; called once for each."""

    def add(self, table: Table, row: Row) -> None:
        """Take a row."""

    def end(self) -> None:
        """Finish all."""

    def give_up(self) -> None:
        """Leave the files as they are; they are removed."""


@dataclass(slots=True)
class Written:
    """What was written.

    Attributes:
        files: In the order of their tables.
        rows: By table, how many.
        sessions: How many sessions are in them.
        left_out: What could not be read, a sentence a session.
    """

    files: list[Path] = field(default_factory=list)
    rows: dict[str, int] = field(default_factory=dict)
    sessions: int = 0
    left_out: list[str] = field(default_factory=list)


def write_tables(
    chosen: Chosen,
    folder: Path,
    form: Form = "csv",
    *,
    only: Sequence[str] = (),
    shop: str | None = None,
    replace: bool = False,
) -> Written:
    """Write tables of the chosen sessions; memory holds one session at a time.

    Args:
        chosen: From ``choose``.
        folder: Where a file a table is put, or the workbook; made if need be.
        form: Of the files.
        only: Names of the tables; all where none is named.
        shop: Name of the shop, or None.
        replace: Whether files that are there may be replaced.

    Raises:
        WrongUse: If there is no such table, or the folder is called like a file.
        CompanionError: If no session can be read, or a file is there already or cannot be written;
            no file is then left half written.
    """
    if folder.suffix.lower() in FILE_SUFFIXES and not folder.is_dir():
        raise WrongUse(
            f"--tables names a folder, for a file a table or for {BOOK}, and '{folder.name}' is "
            "called like a file; name a folder, and what the files are with --form."
        )
    tables = _tables(only)
    written = Written()
    try:
        with (
            _there(folder),
            FreshFiles(replace=replace) as files,
            _made(form, folder, files, written) as made,
        ):
            for table in tables:
                made.begin(table)
                written.rows[table.name] = 0
            _fill(made, chosen, shop, written)
            made.end()
    except OSError as error:
        raise CompanionError(
            f"The tables cannot be written to {folder} ({error.strerror or error}); name a folder "
            "beside others that are there, with space and leave to write. Nothing was left there."
        ) from None
    return written


@contextmanager
def _there(folder: Path) -> Iterator[None]:
    """The folder, made if need be, and then removed again if nothing comes of it."""
    is_new = not folder.is_dir()
    if is_new:
        folder.mkdir(FOLDER_MODE)
    try:
        yield
        if is_new:
            sync_folder(folder.parent)
    except BaseException:
        if is_new:
            with suppress(OSError):
                folder.rmdir()
        raise


def _tables(only: Sequence[str]) -> list[Table]:
    for name in only:
        if name not in TABLES:
            raise WrongUse(f"There is no table '{name}'; there are {', '.join(TABLES)}.")
    return [table for table in TABLES.values() if not only or table.name in only]


def _fill(made: Tables, chosen: Chosen, shop: str | None, written: Written) -> None:
    for folder in chosen.one_by_one():
        try:
            session = read_session(folder)
        except CompanionError as error:
            written.left_out.append(f"{folder.name} is left out: {error}")
            continue
        if not chosen.recent(session.records):
            continue
        try:
            with followed(folder):
                rows = [row for row in rows_of(session, shop) if row[0].name in written.rows]
        except CompanionError as error:
            written.left_out.append(f"{folder.name} is left out: {error}")
            continue
        written.sessions += 1
        for table, row in rows:
            made.add(table, row)
            written.rows[table.name] += 1
    if not written.sessions:
        why = written.left_out[0] if written.left_out else f"none is of {chosen.since} or later."
        raise CompanionError(f"There is no session to export: {why}")


_FORMS: Mapping[str, Callable[[Callable[[Table], BinaryIO]], Tables]] = {
    "csv": CsvTables,
    "json": JsonTables,
    "parquet": ParquetTables,
}
_SUFFIXES = {
    "csv": CsvTables.suffix,
    "json": JsonTables.suffix,
    "parquet": ParquetTables.suffix,
}


@contextmanager
def _made(form: Form, folder: Path, files: FreshFiles, written: Written) -> Iterator[Tables]:
    def open_file(table: Table) -> BinaryIO:
        path = folder / f"{table.name}{_SUFFIXES[form]}"
        opened = files.open(path)
        written.files.append(path)
        return opened

    with tempfile.TemporaryDirectory(prefix=".rows-", dir=folder) as rows:
        if form == "xlsx":
            made: Tables = XlsxBook(files.open(folder / BOOK), rows)
            written.files.append(folder / BOOK)
        else:
            made = _FORMS[form](open_file)
        try:
            yield made
        except BaseException:
            made.give_up()
            raise
