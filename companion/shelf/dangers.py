"""The table of dangers, read from ``dangers.toml`` and checked."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TypeVar

from companion.files.toml_lines import Location
from companion.job.danger_table import DangerFile, DangerTable
from companion.shelf.fault import Fault
from companion.shelf.toml_file import read_model

TABLE = Path(__file__).parent / "dangers.toml"
"""The table that travels with the program."""


def load_dangers(path: Path = TABLE) -> DangerTable:
    """Load the table.

    Raises:
        CompanionError: If the file cannot be read or is wrong, with file, line and reason.
    """
    rows, _ = read_model(path, DangerFile, "table of dangers", _faults)
    return DangerTable(rows)


def _faults(rows: DangerFile) -> Iterator[Fault]:
    tags = [each.tag for each in rows.tag]
    yield from _twice("tag", "tag", tags)
    yield from _twice("fluid", "fluid", [each.fluid for each in rows.fluid])
    for place, fluid in enumerate(rows.fluid):
        if fluid.tag not in tags:
            yield Fault(("fluid", place, "tag"), f"there is no tag '{fluid.tag}'")
    for place, work in enumerate(rows.work):
        at: Location = ("work", place)
        if work.harmless is None and (work.left is None or not work.back or work.tag is None):
            yield Fault(at, "a row that holds needs 'left', 'back' and 'tag', any other 'harmless'")
        if work.harmless is not None and (work.left or work.back or work.tag):
            yield Fault(at, "a harmless row has no 'left', 'back' or 'tag'")
        for action in set(work.actions) & set(work.back):
            yield Fault((*at, "back"), f"'{action}' both opens and ends it")
    for place, found in enumerate(rows.found):
        if found.harmless is not None and (found.mended or found.tag):
            yield Fault(("found", place), "a harmless row has no 'mended' or 'tag'")
    named: list[tuple[Location, str | None]] = [
        *((("work", place, "tag"), row.tag) for place, row in enumerate(rows.work)),
        *((("found", place, "tag"), row.tag) for place, row in enumerate(rows.found)),
    ]
    for location, tag in named:
        if tag is not None and tag not in tags:
            yield Fault(location, f"there is no tag '{tag}'")
    yield from _not_last("work", [(row.parts, row.actions, row.harmless) for row in rows.work])
    yield from _not_last("found", [(row.parts, row.conditions, row.harmless) for row in rows.found])


def _twice(table: str, key: str, listed: list[str]) -> Iterator[Fault]:
    for place, each in enumerate(listed):
        if each in listed[:place]:
            yield Fault((table, place, key), f"the {table} '{each}' is listed twice")


Row = TypeVar("Row", bound="tuple[tuple[str, ...], tuple[str, ...], str | None]")


def _not_last(table: str, listed: list[Row]) -> Iterator[Fault]:
    """The last row must be of everything and hold, and no other may be of everything."""
    for place, (parts, calls, harmless) in enumerate(listed):
        last = place == len(listed) - 1
        everything = not parts and not calls
        if last and (not everything or harmless is not None):
            yield Fault((table, place), "the last row must be of every part and hold")
        if not last and everything:
            yield Fault((table, place), "a row of everything must be the last")
