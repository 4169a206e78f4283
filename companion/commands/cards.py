"""The job cards."""

from __future__ import annotations

import argparse
import json
from typing import Any

from companion.commands.arguments import add_command


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(commands, "cards", cards, "companion cards four-stroke-service")
    made.add_argument(
        "card", nargs="?", metavar="CARD", help="a shipped card's name or a TOML file"
    )
    made.add_argument("--schema", action="store_true", help="print the JSON Schema of a job card")


def cards(options: argparse.Namespace) -> None:
    """List the shipped job cards, print one of them or a file, or print their JSON Schema."""
    from companion.job.card_lines import card_lines
    from companion.job.fits import fits_words
    from companion.shelf.load import card_schema, load_card, shipped_cards

    if options.schema:
        print(json.dumps(card_schema(), indent=2))
        return
    if options.card:
        for line in card_lines(load_card(options.card)):
            print(line)
        return
    for name in shipped_cards():
        card = load_card(name)
        fitting = fits_words(card)
        print(f"{name}: {card.title}{f' (for {fitting})' if fitting else ''}")
