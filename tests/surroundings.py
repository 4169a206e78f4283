"""Every command of the parser itself, each in a way that ends by itself, for tests that run all."""

from __future__ import annotations

import argparse
from collections.abc import Iterator

from companion.cli import command_parser

GIVEN = {
    "FOLDER": "nowhere",
    "FILE": "nowhere.file",
    "TEXT": "gap thirty thou",
    "NAME": "Rosa",
    "SHELL": "bash",
    "ZIP": "nowhere.zip",
    "PHOTO": "nowhere.jpg",
}
"""What stands for an argument that must be given."""

HEAVY = ("work", "understand", "calls", "hear", "checkup")
"""Commands that compile the grammar or load the recognizer, which takes seconds."""

WORDS = {
    "work": ["--typed", "--quiet", "--out", "worked"],
    "resume": ["--typed", "--quiet"],
    "replay": ["--quiet"],
    # Without a session that is not there these would serve until they are stopped.
    "review": ["nowhere", "--no-browser"],
    "board": ["nowhere", "--no-browser"],
    # Instead of minutes of hearing.
    "demo": ["nowhere", "--quiet"],
    "enroll": ["--remove"],
    # It would ask what kind of machine it is.
    "new": ["--blank"],
    # Checking the whole grammar takes ten seconds.
    "grammar": ["nowhere.gram"],
}
"""What is given besides, so that a command does its work and comes to an end."""


def commands() -> list[list[str]]:
    """Return the command lines of all commands that there are."""
    return [
        [*names, *(GIVEN[name] for name in needed), *WORDS.get(names[0], [])]
        for names, needed in _leaves()
    ]


def _leaves() -> Iterator[tuple[list[str], list[str]]]:
    waiting: list[tuple[list[str], argparse.ArgumentParser]] = [([], command_parser())]
    while waiting:
        names, parser = waiting.pop(0)
        within = [
            action for action in parser._actions if isinstance(action, argparse._SubParsersAction)
        ]
        if not within:
            yield (
                names,
                [
                    str(action.metavar)
                    for action in parser._actions
                    if not action.option_strings and action.nargs not in ("?", "*")
                ],
            )
        for action in within:
            waiting += [([*names, name], made) for name, made in action.choices.items()]


def options_with_values(arguments: list[str]) -> list[str]:
    """Return the options of a command that take a value."""
    parser = command_parser()
    for name in arguments:
        within = [each for each in parser._actions if isinstance(each.choices, dict)]
        if not within or name not in within[0].choices:
            break
        parser = within[0].choices[name]
    return [
        action.option_strings[0]
        for action in parser._actions
        if action.option_strings and action.nargs is None
    ]
