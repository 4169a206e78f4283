"""The table of the fault runs, printed and put into the page of measurements."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from tests.faults.running import Tally


def lines_of(tallies: Sequence[Tally]) -> list[str]:
    rows = [("kind", "runs", "acknowledged records", "lost", "tracebacks", "seconds")]
    rows += [
        (t.kind, f"{t.runs:,}", f"{t.acknowledged:,}", f"{t.lost}", f"{t.tracebacks}", f"{t.seconds:.0f}")
        for t in tallies
    ]
    return ["| " + " | ".join(row) + " |" for row in rows]


def write_into(tallies: Sequence[Tally]) -> Path:
    raise NotImplementedError
