"""The tables that can be exported: what each column holds, of which type and in which unit.

Names, types and order are the same in every form and from version to version; a new column comes
last. ``companion export --columns`` prints them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

Kind = Literal["text", "whole", "number", "exact", "truth", "time", "json"]
"""What a column holds: text; a whole number of 64 bits; a double; a decimal with every digit as it
was called, written out; true or false; an instant in UTC to the microsecond; a JSON value."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column.

    Attributes:
        name: As it stands in the header.
        kind: What it holds; any column may be empty.
        about: In words.
        unit: Of its values, where all have the same one.
        width: On a spreadsheet, in characters.
    """

    name: str
    kind: Kind
    about: str
    unit: str = ""
    width: int = 12


@dataclass(frozen=True, slots=True)
class Table:
    """One table."""

    name: str
    about: str
    columns: tuple[Column, ...]


_WHERE = (
    Column("shop", "text", "the shop, by its settings"),
    Column("session", "text", "name of the session's folder", width=34),
    Column(
        "session_id",
        "text",
        "first 16 hex digits of the SHA-256 of its log's first line: the same in every copy",
        width=18,
    ),
    Column("machine", "text", "what the shop calls the machine", width=20),
    Column("serial", "text", "its serial number", width=14),
    Column("job", "text", "name of the job card", width=20),
)
_RECORD = (
    Column("record", "whole", "number of the record in the log", width=8),
    Column("recorded_at", "time", "when it was recorded", "UTC", width=20),
    Column(
        "recorded_with_offset", "text", "the same by the shop's clock, with its offset", width=27
    ),
)
_FACT = (
    *_WHERE,
    Column("step", "text", "step of the card that was current", width=18),
    *_RECORD,
    Column("counts", "truth", "whether it still counts", width=8),
    Column("superseded", "text", "why not: corrected or disregarded"),
    Column("corrects", "whole", "number of the record in whose place it stands", width=9),
    Column("heard", "whole", "number of the record of what was heard", width=8),
    Column("heard_text", "text", "what was heard, or typed", width=30),
    Column("clip", "text", "its sound, inside the session's folder", width=16),
)
_AMOUNT = (
    Column("value", "exact", "as it was called, every digit kept"),
    Column("value_number", "number", "the same as a double"),
    Column("unit", "text", "in which it was called"),
    Column("si_value", "number", "in the SI unit"),
    Column("si_unit", "text", "the SI unit", width=9),
)

READINGS = Table(
    "readings",
    "every reading, corrected and disregarded ones too",
    (
        *_FACT,
        Column("measure", "text", "what was measured", width=22),
        *_AMOUNT,
        Column("verdict", "text", "in, low, high, or unknown where the sheet gives no figure"),
        Column("beyond", "exact", "how far outside the window, in the unit called"),
        Column("window_low", "exact", "least that the spec sheet wants, in window_unit"),
        Column("window_high", "exact", "most that the spec sheet wants, in window_unit"),
        Column("window_unit", "text", "unit of the window"),
        Column("window_source", "text", "where the window is from", width=22),
    ),
)
FLUIDS = Table(
    "fluids",
    "fluids added and drained, and levels",
    (
        *_FACT,
        Column("action", "text", "added, drained or level"),
        Column("fluid", "text", "which"),
        *_AMOUNT,
        Column("level", "text", "full, low or over, where a level was read"),
    ),
)
PARTS = Table(
    "parts",
    "parts needed and used, and what is to be come back to",
    (
        *_FACT,
        Column("action", "text", "needed, used or follow up"),
        Column("part", "text", "which", width=20),
        Column("count", "whole", "how many", width=8),
    ),
)
WORK = Table(
    "work",
    "findings, and work done",
    (
        *_FACT,
        Column("about", "text", "finding or work"),
        Column("what", "text", "the condition found, or what was done", width=16),
        Column("part", "text", "which", width=20),
        Column("count", "whole", "how many", width=8),
        Column("every", "truth", "all of them, without a number", width=8),
        Column("recorded_by", "text", "voice, or a step of the card", width=8),
    ),
)
EVENTS = Table(
    "events",
    "every record of every log, one a row",
    (
        *_WHERE,
        *_RECORD,
        Column("kind", "text", "kind of the event", width=18),
        Column("heard", "whole", "number of the record of what was heard", width=8),
        Column("heard_text", "text", "what was heard, or typed", width=30),
        Column("superseded", "text", "why it does not count: corrected or disregarded"),
        Column("clip", "text", "its sound, inside the session's folder", width=16),
        Column("data", "json", "the event, as 'companion log schema' describes it", width=60),
    ),
)
SESSIONS = Table(
    "sessions",
    "one row a session",
    (
        *_WHERE,
        Column("job_title", "text", "title of the job card", width=24),
        Column("model", "text", "name of the spec sheet", width=20),
        Column("invented", "truth", "whether the sheet's figures are invented", width=9),
        Column("status", "text", "open, parked or closed", width=9),
        Column("opened_at", "time", "when it began", "UTC", width=20),
        Column("opened_with_offset", "text", "the same by the shop's clock", width=27),
        Column("last_at", "time", "when something was recorded last", "UTC", width=20),
        Column("last_with_offset", "text", "the same by the shop's clock", width=27),
        Column("records", "whole", "how many records its log has", width=9),
        Column("clips", "whole", "how many sounds its records name", width=8),
        Column("tags", "text", "the tags that hang, with semicolons between", width=24),
        Column("software", "text", "version of Bench Companion that opened it"),
        Column("last_sha256", "text", "SHA-256 of the last line of its log", width=66),
    ),
)

TABLES: Mapping[str, Table] = {
    table.name: table for table in (SESSIONS, READINGS, FLUIDS, PARTS, WORK, EVENTS)
}
"""Every table, by name."""

IN_WORDS: Mapping[Kind, str] = {
    "text": "text",
    "whole": "whole number",
    "number": "number (double)",
    "exact": "exact decimal (as text)",
    "truth": "true or false",
    "time": "instant",
    "json": "JSON",
}


def column_values() -> list[dict[str, Any]]:
    """Return all columns of all tables for JSON, in the order of their files."""
    return [
        {
            "table": table.name,
            "column": column.name,
            "type": IN_WORDS[column.kind],
            "unit": column.unit or None,
            "about": column.about,
        }
        for table in TABLES.values()
        for column in table.columns
    ]


def column_lines() -> list[str]:
    """Return all tables and columns as lines to print."""
    lines = []
    for table in TABLES.values():
        lines.append(f"{table.name}: {table.about}")
        for column in table.columns:
            unit = f", {column.unit}" if column.unit else ""
            lines.append(f"  {column.name:<18} {IN_WORDS[column.kind]}{unit}: {column.about}")
    return lines
