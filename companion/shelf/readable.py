"""TOML read in spite of wrong lines, so that everything that is wrong is told at once.

A line that TOML does not take is told with what to write instead, and read as that or left out; the
rest is read on. Where a bracket or a text is left open, nothing after it can be told apart, and
reading ends.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

from companion.files.limits import MOST_TOLD
from companion.files.toml_lines import TomlLines
from companion.files.toml_text import TomlFault, toml_in
from companion.shelf.mended import FILLER
from companion.shelf.mistyped import key_of, mistyped, without_value

_LARGEST = 2**16
"""Characters of a text that is read on after a fault: each fault means reading it anew. Eight times
the length of the longest shipped card."""

_NOT_TOML = "not valid TOML"
"""How the reason begins where a line has not the form of TOML."""

_NO_TEXT = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")
"""Characters that no key types: a file with one is no text."""

_FILLED = re.compile(rf"([A-Za-z0-9_-]+) = \"{FILLER}\"")
"""A value that was left out."""

_TWICE = re.compile(r"cannot declare \('(\w+)',\) twice")


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
    rows = text.replace("\r\n", "\n").split("\n") if len(text) <= _LARGEST else [text]
    while True:
        try:
            read.content, read.lines = toml_in("\n".join(rows))
            return read
        except TomlFault as fault:
            if not _goes_on(read, rows, fault):
                return read


def _goes_on(read: Readable, rows: list[str], fault: TomlFault) -> bool:
    """Note a fault, and put something readable in its place; return whether that was possible."""
    line = fault.line
    again = line in read.faults
    # A number beyond all measure, or what stands too deep, was not mistyped.
    if not fault.reason.startswith(_NOT_TOML) or line > len(rows):
        read.faults.setdefault(line, fault.reason)
        return False
    row = rows[line - 1]
    meant = None if again or _NO_TEXT.search(row) else mistyped(row, fault.reason)
    twice = _TWICE.search(fault.reason)
    if twice is not None and not again:
        # The table was written for one but is repeated: each is read as one of several.
        name = twice[1]
        read.faults[line] = f"{_NOT_TOML}: write [[{name}]] before each {name}, not [{name}]"
        rows[:] = [f"[[{name}]]" if each.strip() == f"[{name}]" else each for each in rows]
        return True
    if meant is not None:
        read.faults[line] = f"{_NOT_TOML}: {meant[0]}"
        rows[line - 1] = meant[1]
        read.keys |= {found[1] for found in _FILLED.finditer(meant[1])}
        return len(read.faults) <= MOST_TOLD
    key = key_of(row)
    twice_here = (
        f": '{key}' stands twice, leave one out" if key and "overwrite" in fault.reason else ""
    )
    read.faults.setdefault(line, fault.reason + twice_here)
    if len(read.faults) > MOST_TOLD or row == "#" or _NO_TEXT.search(row):
        return False
    rest = "#" if again and without_value(row) is not None else without_value(row)
    if rest is None:
        return False
    read.keys.add("" if rest == "#" else key_of(rest))
    rows[line - 1] = rest
    return True
