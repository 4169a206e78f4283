"""The sessions of the shop."""

from __future__ import annotations

import argparse
from typing import Any

from companion.commands.arguments import add_command
from companion.errors import CompanionError


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(commands, "sessions", sessions, "companion sessions")
    made.add_argument(
        "--forget",
        metavar="SESSION",
        help="take a session whose folder is gone off the list; what it said is not known any more",
    )


def sessions(options: argparse.Namespace) -> None:
    """List the sessions."""
    from companion.log.sessions import gone_sessions, list_sessions, session_line
    from companion.log.standing_lines import machine_lines

    if options.forget is not None:
        _forget(options.forget)
        return
    found = list_sessions()
    if not found:
        print("No session yet: start one with 'companion work'.")
    for summary in found:
        print(session_line(summary))
    for line in machine_lines(found):
        print(line)
    for folder, machine in gone_sessions().items():
        print(
            f"{folder.name}  gone: {folder} is not there any more, so that what it said of "
            f"{machine} is not known; bring it back, or 'companion sessions --forget {folder}'"
        )


def _forget(name: str) -> None:
    from companion.log.data import data_folder
    from companion.log.elsewhere import forget
    from companion.log.sessions import gone_sessions

    folder = forget(data_folder(), name)
    kept = next((each for each in gone_sessions() if name in (str(each), each.name)), None)
    if folder is None and kept is not None:
        raise CompanionError(
            f"{kept} is still there, without its log; move the folder away to forget it."
        )
    if folder is None:
        raise CompanionError(
            f"There is no session '{name}' that is gone; 'companion sessions' lists those there "
            "are."
        )
    print(f"Forgotten: {folder}")
