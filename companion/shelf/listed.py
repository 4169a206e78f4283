"""All sheets and cards that can be worked by: the shop's own, then those of the program.

One that has faults stands in the list with them, and costs none of the others its place.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, TypeVar

from companion.job.card import JobCard
from companion.job.sheet import SpecSheet
from companion.shelf.check import Checked, check_card, check_sheet
from companion.shelf.load import CARDS, SHEETS
from companion.shelf.own import own_cards, own_sheets
from companion.shelf.toml_file import names_in

Table = TypeVar("Table", JobCard, SpecSheet)


@dataclass(frozen=True, slots=True)
class Listed(Generic[Table]):
    """One sheet or card.

    Attributes:
        name: By which a command finds it.
        path: Its file.
        own: Whether it is the shop's own.
        table: What stands in it; None where it has faults.
        faults: What is wrong with it, a line each; empty where nothing is.
        asked: What is asked about though nothing is wrong, a line each.
        hidden: Whether an own one of that name is taken in its place.
    """

    name: str
    path: Path
    own: bool
    table: Table | None
    faults: tuple[str, ...] = ()
    asked: tuple[str, ...] = ()
    hidden: bool = False


def listed_sheets() -> list[Listed[SpecSheet]]:
    """Return every spec sheet, the shop's own first.

    Raises:
        CompanionError: If it cannot be told where this user's files are.
    """
    return _listed(own_sheets(), SHEETS, check_sheet)


def listed_cards() -> list[Listed[JobCard]]:
    """Return every job card, the shop's own first.

    Raises:
        CompanionError: If it cannot be told where this user's files are.
    """
    return _listed(own_cards(), CARDS, check_card)


def read_sheet(path: Path) -> Listed[SpecSheet]:
    """Return a file as a spec sheet, with what is wrong with it."""
    return _read(path.stem, path, check_sheet, own=True)


def read_card(path: Path) -> Listed[JobCard]:
    """Return a file as a job card, with what is wrong with it."""
    return _read(path.stem, path, check_card, own=True)


def _listed(
    own: Path, shipped: Path, check: Callable[[Path], Checked[Table]]
) -> list[Listed[Table]]:
    mine = names_in(own)
    found = [_read(name, own / f"{name}.toml", check, own=True) for name in mine]
    for name in names_in(shipped):
        path = shipped / f"{name}.toml"
        found.append(_read(name, path, check, own=False, hidden=name in mine))
    return found


def _read(
    name: str,
    path: Path,
    check: Callable[[Path], Checked[Table]],
    *,
    own: bool,
    hidden: bool = False,
) -> Listed[Table]:
    found = check(path)
    return Listed(name, path, own, found.read, found.faults, found.asked, hidden)
