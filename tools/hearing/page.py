"""Tables put into the page of measurements, each between two marks of its own."""

from __future__ import annotations

import os
import platform
from datetime import date
from pathlib import Path

from companion.errors import CompanionError

PAGE = Path(__file__).resolve().parent.parent.parent / "docs" / "measurements.md"


def write_into(name: str, command: str, text: str, page: Path = PAGE) -> None:
    """Put tables where those of the same name stand, with the day and the machine.

    Args:
        name: Of the tables: "people, slots".
        command: That made them, after ``python -m tools.hearing``.
        text: Markdown.
        page: Has the marks of this name.

    Raises:
        CompanionError: If it has not.
    """
    begin, end = f"<!-- hearing: {name} -->", f"<!-- end of hearing: {name} -->"
    whole = page.read_text(encoding="utf-8")
    if begin not in whole or end not in whole:
        raise CompanionError(f"{page} has no marks {begin} and {end}; put them where it belongs.")
    before, _, rest = whole.partition(begin)
    _, _, after = rest.partition(end)
    where = (
        f"`python -m tools.hearing {command}`, {date.today():%d %b %Y}, {platform.system()} "
        f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}."
    )
    page.write_text(f"{before}{begin}\n{where}\n\n{text}\n{end}{after}", encoding="utf-8")
