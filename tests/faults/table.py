"""The table of the fault runs, printed and put into the page of measurements."""

from __future__ import annotations

import os
import platform
from collections.abc import Sequence
from datetime import date
from pathlib import Path

from tests.faults.running import Tally

PAGE = Path(__file__).resolve().parent.parent.parent / "docs" / "measurements.md"
BEGIN = "<!-- fault runs: written by python -m tests.faults --write -->"
END = "<!-- end of the fault runs -->"
HEAD = ("kind", "runs", "acknowledged records", "lost", "tracebacks", "seconds")
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
    """Put the table into the page of measurements, in place of the one before.

    Args:
        tallies: Of all kinds that were run.
        page: Made where it is missing.
    """
    text = page.read_text(encoding="utf-8") if page.exists() else NEW_PAGE
    if BEGIN not in text:
        text += f"\n## Fault runs\n\n{BEGIN}\n{END}\n"
    before, _, rest = text.partition(BEGIN)
    after = rest.partition(END)[2]
    wrong = sum(len(tally.told) for tally in tallies)
    machine = (
        f"{date.today():%d %B %Y}, {platform.system()} {platform.machine()}, "
        f"{os.cpu_count()} cores, Python {platform.python_version()}; "
        + (f"{wrong} things were not as they should be" if wrong else "all as it should be")
        + "."
    )
    remarks = [f"- {' '.join(remark.split())[:300]}" for remark in remarks_of(tallies)]
    body = "\n".join([machine, "", *lines_of(tallies), *(["", *remarks] if remarks else [])])
    page.parent.mkdir(exist_ok=True)
    page.write_text(f"{before}{BEGIN}\n{body}\n{END}{after}", encoding="utf-8")
    return page
