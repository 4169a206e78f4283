"""What several commands take alike, worded once."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import Any

from companion.plain_print import whole

Command = Callable[[argparse.Namespace], int | None]
"""Runs with what was given; returns the exit status, None for 0."""


def add_command(within: Any, name: str, command: Command, example: str) -> argparse.ArgumentParser:
    """Add a command; its help is the docstring of what runs it.

    Args:
        within: From ``add_subparsers``.
        name: As it is typed.
        command: Runs it.
        example: A line that works.
    """
    text = (command.__doc__ or "").strip()
    made: argparse.ArgumentParser = within.add_parser(
        name, help=text, description=text, epilog=f"Example: {example}"
    )
    made.set_defaults(command=command)
    return made


def session_argument(made: argparse.ArgumentParser) -> None:
    """A session by its name or folder; ``session`` is None where none is given."""
    made.add_argument(
        "session", nargs="?", metavar="SESSION", help="name or folder; else the last one"
    )


def job_options(made: argparse.ArgumentParser) -> None:
    """The card and the sheet of a job."""
    made.add_argument("--job", metavar="CARD", help="job card: its name or a TOML file")
    made.add_argument("--machine", metavar="SPEC", help="spec sheet: its name or a TOML file")


def sessions_argument(made: argparse.ArgumentParser) -> None:
    """Sessions by their names or folders; ``sessions`` is empty where none is given."""
    made.add_argument(
        "sessions", nargs="*", metavar="SESSION", help="names or folders; else the last one"
    )


def json_option(made: Any) -> None:
    """Print JSON, for programs."""
    made.add_argument("--json", action="store_true", help="print it as JSON, for programs")


def schema_option(made: argparse.ArgumentParser) -> None:
    """What may stand in a file that people write."""
    made.add_argument(
        "--schema", action="store_true", help="print the JSON Schema: all that may stand in one"
    )


def html_option(made: argparse.ArgumentParser) -> None:
    """A page as a file, to look at in a browser or to print."""
    made.add_argument(
        "--html", type=Path, metavar="FILE", help="write the page to this file, for a browser"
    )


def from_option(made: Any, dest: str = "source") -> None:
    """What something is made from, of the same kind or not."""
    made.add_argument(
        "--from",
        dest=dest,
        metavar="SOURCE",
        help="make it from this: a sheet or card to copy; the marked calls of a session to enroll",
    )


def serial_option(made: argparse.ArgumentParser) -> None:
    """Which one of several machines of a model."""
    made.add_argument(
        "--serial",
        type=whole,
        metavar="NUMBER",
        help="its serial number: two machines of one model are two",
    )


def replace_option(made: argparse.ArgumentParser) -> None:
    """Leave to replace what the program would not."""
    made.add_argument(
        "--replace",
        action="store_true",
        help="replace a file that is there even if it is none of the same kind",
    )


def order_options(made: argparse.ArgumentParser) -> None:
    """Whose job it is, for the owner's sheet."""
    made.add_argument("--customer", type=whole, metavar="NAME", help="who brought the machine")
    made.add_argument("--work-order", type=whole, metavar="NUMBER", help="the shop's work order")


def ear_options(made: argparse.ArgumentParser) -> None:
    """What hears."""
    from companion.recognize.choose import NAMES

    made.add_argument("--recognizer", metavar="NAME", help=f"one of {', '.join(NAMES)}")
    made.add_argument("--model", type=Path, metavar="DIR", help="folder of the recognizer's model")
    made.add_argument(
        "--second",
        metavar="NAME",
        help="hears the numbers too: sphinx, vosk or none; where the two differ you are asked",
    )
    voice_option(made)


def voice_option(made: argparse.ArgumentParser) -> None:
    """Who speaks."""
    made.add_argument(
        "--voice", metavar="VOICE", help="who speaks: a voice of 'companion voices', enrolled"
    )


def quiet_option(made: argparse.ArgumentParser) -> None:
    """What speaks."""
    made.add_argument("--quiet", action="store_true", help="print the replies, do not speak them")


def board_option(made: argparse.ArgumentParser) -> None:
    """The board on the wall beside a live session."""
    made.add_argument(
        "--board", action="store_true", help="show where the job stands on a page, for the wall"
    )
