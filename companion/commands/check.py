"""A check of every sheet and card, the shop's own and those of the program."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.commands.arguments import add_command, json_option
from companion.commands.json_lists import print_list
from companion.errors import CompanionError

if TYPE_CHECKING:
    from companion.shelf.listed import Listed


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(commands, "check", check, "companion check")
    made.add_argument(
        "names", nargs="*", metavar="NAME", help="only these: names or TOML files; else all"
    )
    json_option(made)


def check(options: argparse.Namespace) -> int:
    """Check all sheets and cards, your own too. All that is wrong is told, and what looks odd."""
    from companion.commands.listing import as_json

    found = _found(options.names)
    if options.json:
        print_list("checked", ({"what": what, **as_json(each)} for what, each in found))
    else:
        for what, each in found:
            if each.faults or each.asked:
                print(f"{what} {each.name}{', your own' if each.own else ''}:")
                print("\n".join(f"  {line}" for line in (*each.faults, *each.asked)))
        bad = sum(bool(each.faults) for _, each in found)
        good = len(found) - bad
        odd = sum(bool(each.asked) for _, each in found)
        print(
            f"{good} {'passes' if good == 1 else 'pass'}"
            f"{f', {odd} of them with questions' if odd else ''}"
            f"{f', {bad} with faults' if bad else ''}."
        )
    return 1 if any(each.faults for _, each in found) else 0


def _found(names: list[str]) -> list[tuple[str, Listed[Any]]]:
    """Yield each file to check: what kind it is, and what was read of it."""
    from companion.shelf.listed import listed_cards, listed_sheets

    everything: list[tuple[str, Listed[Any]]] = [
        *(("sheet", each) for each in listed_sheets()),
        *(("card", each) for each in listed_cards()),
    ]
    if not names:
        return everything
    chosen: list[tuple[str, Listed[Any]]] = []
    for name in names:
        path = Path(name)
        its = [(what, each) for what, each in everything if each.name == name and not each.hidden]
        if not its and path.is_file():
            its = [_file(path)]
        if not its:
            raise CompanionError(
                f"There is no sheet or card '{name}'; 'companion sheets' and 'companion cards' "
                "list them."
            )
        chosen += its
    return chosen


def _file(path: Path) -> tuple[str, Listed[Any]]:
    """A file of its own: a card where it has steps, else a sheet."""
    from companion.shelf.listed import read_card, read_sheet

    card = read_card(path)
    if card.table is not None:
        return "card", card
    sheet = read_sheet(path)
    # Read as both: the kind that it was meant as has fewer faults.
    return ("sheet", sheet) if len(sheet.faults) <= len(card.faults) else ("card", card)
