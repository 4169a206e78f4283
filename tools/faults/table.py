"""The table of the fault runs, printed and put into the page of measurements."""

from __future__ import annotations

import fcntl
import os
import platform
from collections.abc import Sequence
from datetime import date
from pathlib import Path

from tools.faults.running import Tally

PAGE = Path(__file__).resolve().parent.parent.parent / "docs" / "measurements.md"
BEGIN = "<!-- fault runs: written by python -m tools.faults --write -->"
END = "<!-- end of the fault runs -->"
KINDS_IN_ORDER = (
    *("kills", "power-cuts", "real-cuts", "disk-full", "real-full", "quota", "io-errors"),
    *("permissions", "clock", "sleep", "signals", "several"),
)
HEAD = ("kind", "runs", "acknowledged records", "lost", "tracebacks", "seconds", "on")
NEW_PAGE = f"""# Measurements

What was measured, on which machine, and by which command; nothing here is written by hand.

## Fault runs

{BEGIN}
{END}
"""


def lines_of(tallies: Sequence[Tally]) -> list[str]:
    """The table, a line each, as Markdown."""
    rows = [HEAD, tuple("---" if each == "kind" else "---:" for each in HEAD)]
    rows += [
        (
            tally.kind,
            f"{tally.runs:,}",
            f"{tally.acknowledged:,}",
            f"{tally.lost:,}",
            f"{tally.tracebacks:,}",
            f"{tally.seconds:.0f}",
            f"{date.today():%d %b %Y}",
        )
        for tally in tallies
    ]
    return ["| " + " | ".join(row) + " |" for row in rows]


def remarks_of(tallies: Sequence[Tally]) -> list[str]:
    """What was left out, what was held against the model, and whatever went wrong."""
    remarks = [note for tally in tallies for note in tally.notes]
    remarks += [
        f"{tally.kind}: {tally.checked:,} disks held against the model of what a cut may leave"
        for tally in tallies
        if tally.checked
    ]
    return remarks + [told for tally in tallies for told in tally.told]


def write_into(tallies: Sequence[Tally], *, page: Path = PAGE) -> Path:
    """Put the table into the page of measurements; rows of kinds that were not run now stay, with
    the day of theirs.

    Args:
        tallies: Of the kinds that were run.
        page: Made where it is missing.
    """
    page.parent.mkdir(exist_ok=True)
    with page.open("a+", encoding="utf-8") as file:
        # Two runs may end at the same time.
        fcntl.flock(file, fcntl.LOCK_EX)
        file.seek(0)
        text = file.read() or NEW_PAGE
        if BEGIN not in text:
            text += f"\n## Fault runs\n\n{BEGIN}\n{END}\n"
        before, _, rest = text.partition(BEGIN)
        old, _, after = rest.partition(END)
        file.truncate(0)
        file.write(f"{before}{BEGIN}\n{_body(tallies, old.splitlines())}\n{END}{after}")
    return page


def _body(tallies: Sequence[Tally], old: Sequence[str]) -> str:
    now = {tally.kind for tally in tallies}
    head, rule, *fresh = lines_of(tallies)
    kept = [line for line in old if line.startswith("| ") and line not in (head, rule)]
    rows = [row for row in kept if row.split(" | ")[0].removeprefix("| ") not in now] + fresh
    order = list(KINDS_IN_ORDER)
    rows.sort(key=lambda row: _place(row.split(" | ")[0].removeprefix("| "), order))
    remarks = [line for line in old if line.startswith("- ")]
    remarks = [line for line in remarks if line.removeprefix("- ").partition(":")[0] not in now]
    remarks += [f"- {' '.join(remark.split())[:300]}" for remark in remarks_of(tallies)]
    machine = (
        f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores, "
        f"Python {platform.python_version()}."
    )
    return "\n".join([machine, "", head, rule, *rows, *(["", *sorted(remarks)] if remarks else [])])


def _place(kind: str, order: Sequence[str]) -> int:
    return order.index(kind) if kind in order else len(order)
