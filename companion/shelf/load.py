"""Job cards and spec sheets from TOML, checked; what is wrong is told with its line and reason."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from companion.files.toml_lines import TomlLines
from companion.job.card import JobCard
from companion.job.sheet import SpecSheet
from companion.shelf.card_faults import card_faults
from companion.shelf.sheet_faults import sheet_faults
from companion.shelf.toml_file import find_file, names_in, read_model, schema_of

CARDS = Path(__file__).parent / "cards"
"""The job cards that travel with the program."""

SHEETS = Path(__file__).parent / "sheets"
"""The spec sheets that travel with the program."""


def shipped_cards() -> tuple[str, ...]:
    """Return the names of the job cards that travel with the program."""
    return names_in(CARDS)


def shipped_sheets() -> tuple[str, ...]:
    """Return the names of the spec sheets that travel with the program."""
    return names_in(SHEETS)


def card_file(source: str | Path) -> Path:
    """Return the file of a job card.

    Raises:
        CompanionError: If it is not there.
    """
    return find_file(source, CARDS, "job card")


def sheet_file(source: str | Path) -> Path:
    """Return the file of a spec sheet.

    Raises:
        CompanionError: If it is not there.
    """
    return find_file(source, SHEETS, "spec sheet")


def load_card(source: str | Path) -> JobCard:
    """Load a job card.

    Args:
        source: A TOML file, or the name of a shipped card.

    Raises:
        CompanionError: If it is not there, cannot be read or is wrong, with file, line and reason.
    """
    return read_card(source)[1]


def load_sheet(source: str | Path) -> SpecSheet:
    """Load a spec sheet.

    Args:
        source: A TOML file, or the name of a shipped sheet.

    Raises:
        CompanionError: If it is not there, cannot be read or is wrong, with file, line and reason.
    """
    return read_sheet(source)[1]


def read_card(source: str | Path) -> tuple[Path, JobCard, TomlLines]:
    """Load a job card with its file, and the line of everything in it; else as ``load_card``."""
    path = card_file(source)
    return path, *read_model(path, JobCard, "job card", card_faults)


def read_sheet(source: str | Path) -> tuple[Path, SpecSheet, TomlLines]:
    """Load a spec sheet with its file, and the line of everything in it; else as ``load_sheet``."""
    path = sheet_file(source)
    return path, *read_model(path, SpecSheet, "spec sheet", sheet_faults)


def card_schema() -> dict[str, Any]:
    """Return the JSON Schema of a job card."""
    return schema_of(JobCard)


def sheet_schema() -> dict[str, Any]:
    """Return the JSON Schema of a spec sheet."""
    return schema_of(SpecSheet)
