"""The table of what was tried, printed and put into the page of measurements."""

from __future__ import annotations

import os
import platform
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

PAGE = Path(__file__).resolve().parent.parent.parent / "docs" / "measurements.md"
BEGIN = "<!-- fuzzed inputs: written by python -m tools.fuzz --write -->"
END = "<!-- end of the fuzzed inputs -->"
HEAD = ("reader", "inputs", "faults", "seconds", "on")


@dataclass(frozen=True, slots=True)
class Tried:
    """What came of a reader."""

    reader: str
    inputs: int
    faults: tuple[str, ...]
    seconds: float


def lines_of(tried: Sequence[Tried], *, guided: bool) -> list[str]:
    """The table, a line each, as Markdown.

    Args:
        tried: A row each.
        guided: Whether inputs were guided by the lines of the program that they reached.
    """
    day = f"{date.today():%d %b %Y}{'' if guided else ', drawn plainly'}"
    rows = [HEAD, tuple("---" if each == "reader" else "---:" for each in HEAD)]
    rows += [
        (
            each.reader,
            f"{each.inputs:,}",
            f"{len(each.faults):,}",
            f"{each.seconds:.0f}",
            day,
        )
        for each in tried
    ]
    return ["| " + " | ".join(row) + " |" for row in rows]


def write_into(
    tried: Sequence[Tried], order: Sequence[str], *, guided: bool, page: Path = PAGE
) -> Path:
    """Put the table into the page of measurements; rows of readers that were not tried now stay,
    with the day of theirs.

    Args:
        tried: What was tried now.
        order: Names of all readers.
        guided: As ``lines_of``.
        page: Has the two marks, between which the table goes, or gets them at its end.
    """
    text = page.read_text(encoding="utf-8")
    if BEGIN not in text:
        text += f"\n## Fuzzed inputs\n\n{BEGIN}\n{END}\n"
    before, _, rest = text.partition(BEGIN)
    old, _, after = rest.partition(END)
    head, rule, *fresh = lines_of(tried, guided=guided)
    rows = {_reader(row): row for row in old.splitlines() if row.startswith("| ")}
    rows |= {_reader(row): row for row in fresh}
    machine = (
        f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores, "
        f"Python {platform.python_version()}."
    )
    table = [machine, "", head, rule, *(rows[name] for name in order if name in rows)]
    page.write_text(f"{before}{BEGIN}\n" + "\n".join(table) + f"\n{END}{after}", encoding="utf-8")
    return page


def _reader(row: str) -> str:
    return row.split(" | ")[0].removeprefix("| ")
