"""How sheets and cards are listed, and those that were named printed."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from companion.commands.given import one_by_one
from companion.commands.json_lists import print_list

if TYPE_CHECKING:
    from companion.job.card import JobCard
    from companion.job.sheet import SpecSheet
    from companion.shelf.listed import Listed


def told(each: Listed[Any], said: str) -> str:
    """Return the line of a sheet or card.

    Args:
        each: It.
        said: What it is, where it has no faults.
    """
    if each.faults:
        count = "a fault" if len(each.faults) == 1 else f"{len(each.faults)} faults"
        said = f"HAS {count.upper()}; 'companion check {each.name}' tells"
    if each.own:
        said += ", your own"
    elif each.hidden:
        said += ", not taken: your own of that name is"
    return f"{each.name}: {said}"


def as_json(each: Listed[Any]) -> dict[str, Any]:
    """Return what JSON has of every sheet or card."""
    return {
        "name": each.name,
        "path": str(each.path),
        "own": each.own,
        "hidden": each.hidden,
        "faults": list(each.faults),
        "asked": list(each.asked),
    }


Table = TypeVar("Table", "JobCard", "SpecSheet")


def print_named(
    names: Sequence[str],
    what: str,
    *,
    read: Callable[[str], Table],
    text: Callable[[Table], str],
    as_json: bool,
) -> int:
    """Print the sheets or cards that were named; one that cannot be read costs none of the others.

    Args:
        names: Of sheets or cards, or TOML files, in the order in which they are printed.
        what: "cards" or "sheets".
        read: Reads the one of that name.
        text: All that stands in it, to read.
        as_json: Print them as a list in JSON: of each its name, and all that stands in it.

    Returns:
        The exit status: 0, or the highest of those that could not be printed.
    """
    found: list[dict[str, Any]] = []

    def show(name: str) -> None:
        table = read(name)
        if as_json:
            found.append({"name": name, what.removesuffix("s"): table.model_dump(mode="json")})
            return
        if len(names) > 1:
            print(f"{name}:")
        print(text(table))

    status = one_by_one(names, show)
    if as_json:
        print_list(what, found)
    return status


def yours(kind: str, folder: Path, there: bool) -> None:
    """Tell a person where the own ones are and how to make one, where a person reads it.

    Args:
        kind: "card" or "sheet".
        folder: Where the own ones are kept.
        there: Whether there is an own one.
    """
    if sys.stdout.isatty():
        where = f"Your own are in {folder}; 'companion" if there else "'companion"
        print(f"{where} new {kind} NAME' makes {'another' if there else 'one of your own'}.")
