"""TOML read in spite of lines that are none, so that all that is wrong is told at once.

A line that TOML does not take is told with what to write instead, and left out; the rest is read
on. Where a bracket or a text is left open, nothing after it can be told apart, and reading ends.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

from companion.files.limits import MOST_TOLD
from companion.files.quoting import quoted
from companion.files.toml_lines import TomlLines
from companion.files.toml_text import TomlFault, toml_in
from companion.shelf.as_written import number_as_written
from companion.shelf.mended import FILLER

_LARGEST = 2**16
"""Characters of a text that is read on after a fault: each fault means reading it anew. Eight times
as many as the longest shipped card."""

_LONGEST_LINE = 1_000
"""Characters of a line that is looked at for what was meant."""

_NOT_TOML = "not valid TOML"
"""How the fault of a line begins that has not the form of TOML."""

_PAIR = re.compile(r"""\s*(?P<key>[A-Za-z0-9_-]+)\s*=\s*(?P<value>.*?)\s*(?:\#[^"']*)?$""")
_WITHIN = re.compile(
    r"""(?P<key>[A-Za-z0-9_-]+)\s*=\s*(?P<value>[^\s"'\[\]{}#,](?:[^"'\[\]{}#=,]|,(?=\d))*)"""
)
STRINGS = re.compile(r"\"{3}|'{3}")


@dataclass(slots=True)
class Readable:
    """What a text holds.

    Attributes:
        content: Keys and values; None where too little is TOML.
        lines: On which line each stands.
        faults: By line, what is wrong with it.
        keys: Keys whose value was left out, and "" for a line that was left out whole.
    """

    content: dict[str, Any] | None = None
    lines: TomlLines | None = None
    faults: dict[int, str] = field(default_factory=dict)
    keys: set[str] = field(default_factory=set)


def readable(text: str) -> Readable:
    """Read what can be read of a text."""
    read = Readable()
    rows = text.split("\n")
    while True:
        try:
            read.content, read.lines = toml_in("\n".join(rows))
            return read
        except TomlFault as fault:
            again = fault.line in read.faults
            if not again:
                read.faults[fault.line] = _told(fault.reason, rows[fault.line - 1])
            # A number beyond all measure, or what stands too deep, was not mistyped.
            if not fault.reason.startswith(_NOT_TOML):
                return read
            if len(read.faults) > MOST_TOLD or len(text) > _LARGEST:
                return read
            if not _left_out(rows, fault.line - 1, read.keys, whole=again):
                return read


def _left_out(rows: list[str], place: int, keys: set[str], *, whole: bool) -> bool:
    """Leave out the values of a line that TOML does not take, or the line; whether what follows can
    still be read."""
    row = rows[place]
    # A character that no key types means that this is no text.
    if len(row) > _LONGEST_LINE or re.search(r"[\x00-\x08\x0b-\x1f\x7f]", row.rstrip("\r")):
        return False

    def left(found: re.Match[str]) -> str:
        if _instead(found["key"], _bare(found["value"])) is None:
            return found[0]
        keys.add(found["key"])
        return f'{found["key"]} = "{FILLER}"{found["value"][len(_bare(found["value"])) :]}'

    mended = row if whole else _WITHIN.sub(left, row)
    pair = _PAIR.match(row)
    if mended != row and not (pair and mended.count('"') % 2):
        rows[place] = mended
        return True
    open_brackets = any(row.count(begin) != row.count(end) for begin, end in ("[]", "{}"))
    if row == "#" or open_brackets or STRINGS.search(row) or row.count('"') % 2:
        return False
    if pair and not whole:
        keys.add(pair["key"])
        rows[place] = f'{pair["key"]} = "{FILLER}"'
    else:
        keys.add("")
        rows[place] = "#"
    return True


def _bare(value: str) -> str:
    """A value without the comma and the spaces behind it."""
    return value.strip().rstrip(",").strip()


def _told(reason: str, row: str) -> str:
    """What TOML finds wrong with a line, and what to write where that is plain."""
    if not reason.startswith(_NOT_TOML) or len(row) > _LONGEST_LINE:
        return reason
    whole = _PAIR.match(row)
    pairs = [whole] if whole and not whole["value"].startswith(("{", "[")) else []
    for pair in pairs or _WITHIN.finditer(row):
        key, value = quoted(pair["key"]), _bare(pair["value"])
        if value.startswith(('"', "'")):
            continue
        instead = _instead(key, value)
        if instead is not None:
            return f"{_NOT_TOML}: {instead}"
    return reason


def _instead(key: str, value: str) -> str | None:
    if value.lower() in ("true", "yes", "false", "no"):
        return f"write {key} = {'true' if value.lower() in ('true', 'yes') else 'false'}"
    if re.fullmatch(r"(0|[1-9]\d*)(\.\d+)?", value, re.ASCII):
        return None
    number = number_as_written(value)
    if number is not None:
        return f"'{quoted(value)}' stands in quotes, or as TOML has it: {key} = {number:f}"
    with_unit = re.fullmatch(r"([-+]?[\d.,/ ]*\d)\s*([^\W\d].*|[\"″%°].*)", value)
    number = number_as_written(with_unit[1]) if with_unit else None
    if with_unit is not None and number is not None and key != "unit":
        unit = with_unit[2].strip("\"' ")
        return (
            f"the figure stands alone, {key} = {number:f}, and its unit on a line of its own, "
            f'unit = "{quoted(unit or "inch")}"'
        )
    if re.fullmatch(r"[^\W\d_][^\"'=\[\]{}]*", value):
        return f'text stands in quotes: {key} = "{quoted(value)}"'
    return None
