"""The job cards."""

from __future__ import annotations

import argparse
import json
from typing import Any

from companion.commands.arguments import add_command, json_option, schema_option
from companion.commands.json_lists import print_list


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(commands, "cards", cards, "companion cards four-stroke-service")
    made.add_argument(
        "names", nargs="*", metavar="CARD", help="print these: names or TOML files; else list all"
    )
    schema_option(made)
    json_option(made)


def cards(options: argparse.Namespace) -> int:
    """List the job cards, your own first, or print some. With --schema, print their JSON Schema."""
    from companion.commands.listing import as_json, print_named, told, yours
    from companion.job.card_lines import card_lines
    from companion.job.fits import fits_words
    from companion.shelf.listed import listed_cards
    from companion.shelf.load import card_schema, load_card
    from companion.shelf.own import card_named, own_cards

    if options.schema:
        print(json.dumps(card_schema(), indent=2))
        return 0
    if options.names:
        return print_named(
            options.names,
            "cards",
            read=lambda name: load_card(card_named(name)),
            as_json=options.json,
            text=lambda card: "\n".join(card_lines(card)),
        )
    listed = listed_cards()
    if options.json:
        print_list(
            "cards",
            (
                as_json(each)
                if each.table is None
                else as_json(each)
                | {
                    "title": each.table.title,
                    "fits": each.table.fits.model_dump(mode="json"),
                    "steps": len(each.table.step),
                    "invented": each.table.invented,
                }
                for each in listed
            ),
            folder=str(own_cards()),
        )
        return 0
    for each in listed:
        fitting = None if each.table is None else fits_words(each.table)
        title = "" if each.table is None else each.table.title
        print(told(each, f"{title}{f' (for {fitting})' if fitting else ''}"))
    yours("card", own_cards(), any(each.own for each in listed))
    return 0
