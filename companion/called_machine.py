"""A machine that was first named by a call: the sheet that is left for it, to be filled in."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
from pathlib import Path

from companion.blanks.kinds import KINDS
from companion.blanks.sheet_text import SheetAnswers, sheet_text
from companion.errors import CompanionError
from companion.files.disk import make_folders, write_once
from companion.files.stem import stem_of
from companion.handbook.convert import plain
from companion.handbook.units import written
from companion.job.cylinders import without_cylinder
from companion.job.state import State
from companion.shelf.own import own_sheets

OF_THE_DAY = frozenset({"air temperature"})
"""Measures that belong to the day, not to the machine."""


@dataclass(frozen=True, slots=True)
class LeftSheet:
    """A sheet of a machine that was named by a call.

    Attributes:
        path: Its file.
        new: Whether it was not there before.
    """

    path: Path
    new: bool


def leave_sheet(state: State) -> LeftSheet | None:
    """Leave a sheet of the machine of a session among the shop's own, where it has none.

    Its measures are those that were called, in their units. What they should be nobody has said:
    the ends of their windows stand ready, and what was called stands beside them as a remark.

    Args:
        state: Of the session.

    Returns:
        The sheet; None where the session has one already, or no call said what machine it is of.

    Raises:
        CompanionError: If it cannot be written.
    """
    name, kind = state.machine, state.kind_called
    if state.sheet is not None or name is None or kind is None:
        return None
    path = own_sheets() / f"{stem_of(name) or stem_of(kind)}.toml"
    if os.path.lexists(path):
        return LeftSheet(path, new=False)
    answers = SheetAnswers(
        name,
        replace(KINDS.get(kind, KINDS["engine"]), said=kind),
        serial=state.serial,
        called=_called(state),
        blank=True,
    )
    try:
        make_folders(path.parent)
        write_once(path, sheet_text(answers).encode())
    except OSError as error:
        raise CompanionError(
            f"{path} cannot be written: {error.strerror or error}; everything that was called is "
            f"in the session, and 'companion new sheet' makes the sheet."
        ) from error
    return LeftSheet(path, new=True)


def _called(state: State) -> tuple[tuple[str, str, str], ...]:
    """Each measure that counts, its unit, and its figures in words; in the order of the calls."""
    units: dict[str, str] = {}
    figures: dict[str, list[str]] = {}
    for fact in state.effective(state.readings):
        reading = fact.event
        measure = without_cylinder(reading.measure)
        if measure in OF_THE_DAY:
            continue
        units.setdefault(measure, reading.unit)
        of = reading.measure.removesuffix(measure).strip()
        said = f"{plain(reading.value)} {written(reading.unit)}"
        figures.setdefault(measure, []).append(f"{of} {said}".strip())
    return tuple((measure, units[measure], ", ".join(said)) for measure, said in figures.items())
