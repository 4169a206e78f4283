"""The handbook."""

from __future__ import annotations

import argparse
import re
from collections.abc import Sequence
from typing import Any

from companion.commands.arguments import add_command, json_option
from companion.commands.given import one_by_one
from companion.commands.json_lists import print_list
from companion.plain_print import json_text


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(commands, "handbook", handbook, "companion handbook torque 3/8 'grade 5'")
    made.add_argument(
        "topic", nargs="?", metavar="TOPIC", help="torque, drill, oil …; none lists them"
    )
    made.add_argument(
        "words",
        nargs="*",
        metavar="WORD",
        help="what to look up; several questions, each with its topic in quotes",
    )
    json_option(made)


def negatives_kept(arguments: Sequence[str]) -> list[str]:
    """Mark what is below zero for the handbook, as "-10C": with a space it is no option."""
    asked = list(arguments[:1]) == ["handbook"]
    below_zero = re.compile(r"-[\d.]")
    return [f" {word}" if asked and below_zero.match(word) else word for word in arguments]


def handbook(options: argparse.Namespace) -> int:
    """Answer from the handbook; with no topic, list what it has. Quotes part several questions."""
    from companion.handbook.topics import answer, contents, contents_values, questions
    from companion.settings import load_settings

    if options.topic is None:
        if options.json:
            print_list("topics", contents_values())
        else:
            print("\n".join(contents()))
        return 0
    ounce = load_settings().ounce
    asked = questions([options.topic, *options.words], ounce=ounce)

    def look_up(question: str) -> None:
        found = answer(question, (), ounce=ounce)
        if options.json:
            print(json_text(found.as_json()))
            return
        if len(asked) > 1:
            print(f"{question.strip()}:")
        print(f"{found.text}\nSource: {found.source}")
        if found.note:
            print(f"Note: {found.note}")

    return one_by_one(asked, look_up)
