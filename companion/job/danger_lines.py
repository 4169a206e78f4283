"""The table of dangers as lines, for a shop to read, and as values, for programs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from companion.job.danger_table import DangerTable, FluidRow, FoundRow, TagText, WorkRow

EVERY_PART = "any other part"


def danger_lines(table: DangerTable) -> list[str]:
    """Return what holds the start, what ends it, and what is excepted with the reason."""
    rows = table.rows
    lines = ["TAGS"]
    lines += [f"  {_tag(row)}" for row in rows.tag]
    lines += ["", "FLUIDS"]
    lines += [f"  {_fluid(row)}" for row in rows.fluid]
    lines += ["", "WORK (the first line that fits a call decides)"]
    lines += [f"  {_work(row)}" for row in rows.work]
    lines += ["", "FINDINGS (the first line that fits a call decides)"]
    lines += [f"  {_found(row)}" for row in rows.found]
    lines += [
        "",
        "A tag comes down by its question and “affirm”, once all under it is called back.",
    ]
    return lines


def danger_values(table: DangerTable) -> Iterator[dict[str, Any]]:
    """Yield the rows for JSON, in the order of the lines: the line, what it is of, and the row."""
    rows = table.rows
    for tag in rows.tag:
        yield {"line": _tag(tag), "about": "tag", **tag.model_dump(mode="json")}
    for fluid in rows.fluid:
        yield {"line": _fluid(fluid), "about": "fluid", **fluid.model_dump(mode="json")}
    for work in rows.work:
        yield {"line": _work(work), "about": "work", **work.model_dump(mode="json")}
    for found in rows.found:
        yield {
            "line": _found(found),
            "about": "finding",
            **found.model_dump(mode="json"),
            "mended": list(found.mended_by),
        }


def _tag(row: TagText) -> str:
    return f"{row.tag}: {row.why}"


def _fluid(row: FluidRow) -> str:
    until = "added and its level called full" if row.level_needed else "added"
    return f"{row.fluid} drained: tag {row.tag}, until {until}"


def _work(row: WorkRow) -> str:
    what = f"{_parts(row.parts)}: {_either(row.actions) or 'anything else'}"
    if row.harmless is not None:
        return f"{what}: holds nothing. {row.harmless}"
    return f"{what}: tag {row.tag}, until {_either(row.back)}"


def _found(row: FoundRow) -> str:
    what = f"{_parts(row.parts)}: {_either(row.conditions) or 'anything else'}"
    if row.harmless is not None:
        return f"{what}: holds nothing. {row.harmless}"
    tag = "holds the start" if row.tag is None else f"tag {row.tag}"
    return f"{what}: {tag}, until {_either(row.mended_by)}"


def _parts(parts: tuple[str, ...]) -> str:
    if not parts:
        return EVERY_PART
    return ", ".join(f"only the {each[1:]}" if each.startswith("=") else each for each in parts)


def _either(words: Iterable[str]) -> str:
    *most, last = (*words,) or ("",)
    return f"{', '.join(most)} or {last}" if most else last
