"""The command line: what was typed goes to its command, a file a family in ``commands/``.

Errors are one sentence on standard error; the exit status is 2 for wrong use and 1 for failure.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from companion import __version__
from companion.commands import (
    board,
    calls,
    cards,
    cautions,
    checkup,
    enroll,
    handbook,
    hear,
    history,
    key,
    log,
    photo,
    replay,
    report,
    review,
    sessions,
    sheets,
    transfer,
    work,
)
from companion.commands.arguments import Command
from companion.errors import WrongUse
from companion.guarded import guarded, refuse_long

FAMILIES = (
    work,
    replay,
    sessions,
    history,
    report,
    photo,
    review,
    board,
    transfer,
    key,
    hear,
    enroll,
    calls,
    log,
    handbook,
    cards,
    sheets,
    cautions,
    checkup,
)
"""Every file of commands, in the order of the help."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status."""
    given = [*(sys.argv[1:] if arguments is None else arguments)]
    return guarded(lambda: _run(given))


def _run(arguments: list[str]) -> int:
    refuse_long(arguments)
    options = command_parser().parse_args(handbook.negatives_kept(arguments))
    command: Command = options.command
    return command(options) or 0


def command_parser() -> argparse.ArgumentParser:
    """Return what reads the command line, with every command."""
    parser = argparse.ArgumentParser(
        prog="companion",
        description="Listens at the bench, records what is called out, reads it back. Offline.",
    )
    parser.add_argument("--version", action="version", version=f"companion {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    for family in FAMILIES:
        family.add_to(commands)
    return parser


__all__ = ["WrongUse", "main"]

if __name__ == "__main__":
    sys.exit(main())
