"""The command line: what was typed goes to its command, a file a family in ``commands/``.

Errors are one sentence on standard error; ``commands/overview.py`` lists the exit statuses.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Iterable, Sequence

from companion import __version__
from companion.commands import (
    board,
    calls,
    cards,
    cautions,
    check,
    checkup,
    completion,
    enroll,
    handbook,
    hear,
    history,
    key,
    log,
    new,
    photo,
    replay,
    report,
    review,
    sessions,
    settings,
    sheets,
    transfer,
    work,
)
from companion.commands.arguments import Command
from companion.commands.overview import Overview
from companion.errors import WrongUse
from companion.files.limits import LONGEST_QUOTED
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
    new,
    sheets,
    cards,
    check,
    cautions,
    settings,
    checkup,
    completion,
)
"""Every file of commands, in the order of the help."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status."""
    given = [*(sys.argv[1:] if arguments is None else arguments)]
    return guarded(lambda: _run(given))


def _run(arguments: list[str]) -> int:
    refuse_long(arguments)
    parser = command_parser()
    if completion.ASKED in os.environ:
        completion.complete(parser)
    if not arguments:
        print(parser.short_help(), end="")
        return 0
    _refuse_unknown(arguments[0], parser.commands())
    options = parser.parse_args(handbook.negatives_kept(arguments))
    command: Command = options.command
    return command(options) or 0


def _refuse_unknown(name: str, commands: Iterable[str]) -> None:
    """Refuse a command that there is not, with the one that was perhaps meant."""
    if name.startswith("-") or name in commands:
        return
    # Imported here, or every command would wait for it.
    from companion.nearest import nearest

    near = nearest(name, commands)
    meant = f"did you mean '{near[0]}'? 'companion'" if near else "'companion'"
    raise WrongUse(f"There is no command '{name[:LONGEST_QUOTED]}'; {meant} alone lists them.")


def command_parser() -> Overview:
    """Return what reads the command line, with every command."""
    parser = Overview(
        prog="companion",
        description="Listens at the bench, records what is called out, reads it back. Offline.",
    )
    parser.add_argument("--version", action="version", version=f"companion {__version__}")
    commands = parser.add_subparsers(
        required=True, metavar="COMMAND", parser_class=argparse.ArgumentParser
    )
    for family in FAMILIES:
        family.add_to(commands)
    return parser


__all__ = ["WrongUse", "main"]

if __name__ == "__main__":
    sys.exit(main())
