"""The table of dangers as lines, for a shop to read."""

from __future__ import annotations

from collections.abc import Iterable

from companion.job.danger_table import DangerTable, FoundRow, WorkRow

EVERY_PART = "any other part"


def danger_lines(table: DangerTable) -> list[str]:
    """Return what holds the start, what ends it, and what is excepted with the reason."""
    rows = table.rows
    lines = ["TAGS"]
    lines += [f"  {each.tag}: {each.why}" for each in rows.tag]
    lines += ["", "FLUIDS"]
    for fluid in rows.fluid:
        until = "added and its level called full" if fluid.level_needed else "added"
        lines.append(f"  {fluid.fluid} drained: tag {fluid.tag}, until {until}")
    lines += ["", "WORK (the first line that fits a call decides)"]
    lines += [f"  {_work(row)}" for row in rows.work]
    lines += ["", "FINDINGS (the first line that fits a call decides)"]
    lines += [f"  {_found(row)}" for row in rows.found]
    lines += [
        "",
        "A tag comes down by its question and “affirm”, once all under it is called back.",
    ]
    return lines


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
