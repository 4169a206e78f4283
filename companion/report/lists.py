"""Sections of the report that are a list: a line for each thing that was called, with its evidence.

One row of ``LISTS`` is a section: in the list of sections at the head of the page, in the page, and
on paper.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from companion.job.state import State
from companion.report import facts
from companion.report.rows import LineRow, Origin


@dataclass(frozen=True, slots=True)
class ListSection:
    """A section of lines.

    Attributes:
        id: Where links lead to: lower case, words joined by hyphens, of no other section.
        title: Its heading, and what it is called at the head of the page.
        rows: From the state of the job, and where in the log each record comes from by its number,
            to the lines, in the order of the page; a section without lines is left out.
        counted: Whether each line says how many.
    """

    id: str
    title: str
    rows: Callable[[State, Mapping[int, Origin]], tuple[LineRow, ...]]
    counted: bool = False


LISTS: tuple[ListSection, ...] = (
    ListSection("follow-ups", "To come back to", facts.follow_ups),
    ListSection("findings", "Found", facts.findings),
    ListSection("work", "Done", facts.work),
    ListSection("used", "Parts used", facts.parts_used, counted=True),
)
"""In the order of the page."""
