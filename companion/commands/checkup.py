"""Whether everything that a session needs works."""

from __future__ import annotations

import argparse
from typing import Any

from companion.commands.arguments import add_command, json_option
from companion.commands.json_lists import print_list


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    json_option(add_command(commands, "checkup", checkup, "companion checkup"))


def checkup(options: argparse.Namespace) -> int:
    """Try microphone, speaker, recognizer, voice and disk."""
    from companion.checkup import check_all
    from companion.settings import load_settings

    results = check_all(load_settings())
    if options.json:
        print_list(
            "checkup",
            [{"part": each.part, "works": each.ok, "sentence": each.sentence} for each in results],
        )
    else:
        for result in results:
            print(f"{'works ' if result.ok else 'FAILS '} {result.part}: {result.sentence}")
    return 0 if all(result.ok for result in results) else 1
