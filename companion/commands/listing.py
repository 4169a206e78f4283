"""How a list of sheets or cards tells each of them."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
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


def yours(kind: str, folder: Path, there: bool) -> None:
    """Tell a person where the own ones are and how to make one, where a person reads it."""
    if sys.stdout.isatty():
        where = f"Your own are in {folder}; 'companion" if there else "'companion"
        print(f"{where} new {kind} NAME' makes {'another' if there else 'one of your own'}.")
