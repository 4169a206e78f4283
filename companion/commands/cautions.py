"""The cautions."""

from __future__ import annotations

import argparse
from typing import Any

from companion.commands.arguments import add_command, json_option
from companion.commands.json_lists import print_list


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(commands, "cautions", cautions, "companion cautions")
    json_option(made)


def cautions(options: argparse.Namespace) -> None:
    """List the cautions: what is spoken, when, and its source."""
    from companion.job.caution_table import AGAIN_IN_WORDS
    from companion.shelf.rules import shipped_rules

    if options.json:
        found = [
            {
                **caution.model_dump(mode="json", exclude_defaults=True),
                "again": caution.again,
                "said": [trigger.in_words() for trigger in caution.trigger],
            }
            for caution in shipped_rules().cautions
        ]
        print_list("cautions", found)
        return
    for caution in shipped_rules().cautions:
        again = "each time" if caution.stops else AGAIN_IN_WORDS[caution.again]
        print(f"{caution.name} ({again}): {caution.text}")
        for trigger in caution.trigger:
            print(f"  on {trigger.in_words()}")
        print(f"  source: {caution.source}")
