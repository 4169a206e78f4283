"""Job cards and spec sheets from TOML, checked; what is wrong is told with its line and reason."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from companion.handbook.units import UNITS, dimension
from companion.job.card import JobCard
from companion.job.card_faults import card_faults
from companion.job.name_faults import name_faults
from companion.job.sheet import SpecReading, SpecSheet
from companion.job.toml_file import Fault, find_file, names_in, read_model, refuse, schema_of
from companion.job.toml_lines import Location
from companion.job.words import DIMENSIONS, common_measures

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


def load_card(source: str | Path) -> JobCard:
    """Load a job card.

    Args:
        source: A TOML file, or the name of a shipped card.

    Raises:
        CompanionError: If it is not there, cannot be read or is wrong, with file, line and reason.
    """
    path = find_file(source, CARDS, "job card")
    card, lines = read_model(path, JobCard, "job card")
    refuse(path, lines, [*card_faults(card)])
    return card


def load_sheet(source: str | Path) -> SpecSheet:
    """Load a spec sheet.

    Args:
        source: A TOML file, or the name of a shipped sheet.

    Raises:
        CompanionError: If it is not there, cannot be read or is wrong, with file, line and reason.
    """
    path = find_file(source, SHEETS, "spec sheet")
    sheet, lines = read_model(path, SpecSheet, "spec sheet")
    refuse(path, lines, [*_sheet_faults(sheet)])
    return sheet


def card_schema() -> dict[str, Any]:
    """Return the JSON Schema of a job card."""
    return schema_of(JobCard)


def sheet_schema() -> dict[str, Any]:
    """Return the JSON Schema of a spec sheet."""
    return schema_of(SpecSheet)


# --- the spec sheet -----------------------------------------------------------------------------


def _sheet_faults(sheet: SpecSheet) -> Iterable[Fault]:
    if not sheet.name.strip():
        yield Fault(("name",), "'name' is empty")
    for index, reading in enumerate(sheet.reading):
        yield from _reading_faults(("reading", index), reading)
    for index, fluid in enumerate(sheet.fluid):
        at: Location = ("fluid", index)
        if fluid.unit is not None and _dimension(fluid.unit) != "volume":
            yield Fault((*at, "unit"), _no_unit_of("volume", fluid.unit))
        if fluid.capacity is not None and fluid.unit is None:
            yield Fault((*at, "capacity"), "'capacity' needs a 'unit' of volume")
        if fluid.capacity is not None and fluid.capacity <= 0:
            yield Fault((*at, "capacity"), "'capacity' must be above zero")
    yield from name_faults("reading", [(r.measure, r.spoken, ()) for r in sheet.reading], "measure")
    yield from name_faults("fluid", [(f.name, f.spoken, ()) for f in sheet.fluid])
    for table in ("part", "condition"):
        yield from name_faults(table, [(t.name, t.spoken, t.plural) for t in getattr(sheet, table)])


def _reading_faults(at: Location, reading: SpecReading) -> Iterable[Fault]:
    kind = _dimension(reading.unit)
    wanted = common_measures().get(reading.measure)
    if kind is None or kind not in DIMENSIONS:
        yield Fault(
            (*at, "unit"),
            f"'{reading.unit}' is no unit that a measure can have; the units are "
            + ", ".join(name for name in UNITS if dimension(name) in DIMENSIONS),
        )
    elif wanted is not None and kind != wanted:
        yield Fault(
            (*at, "unit"), f"'{reading.measure}' takes a unit of {wanted}, not {reading.unit}"
        )
    if reading.low is not None and reading.high is not None and reading.low > reading.high:
        yield Fault(
            (*at, "low"),
            f"the window is upside down: low is {reading.low} and high is {reading.high}",
        )


def _dimension(unit: str) -> str | None:
    return dimension(unit) if unit in UNITS else None


def _no_unit_of(kind: str, unit: str) -> str:
    fitting = ", ".join(name for name in UNITS if dimension(name) == kind)
    return f"'{unit}' is no unit of {kind}; the units are {fitting}"
