"""Photos of a job."""

from __future__ import annotations

import argparse
from datetime import datetime
from pathlib import Path
from typing import Any

from companion.commands.arguments import add_command
from companion.commands.given import one_by_one
from companion.plain_print import whole


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(commands, "photo", photo, "companion photo seal.jpg --step drain-oil")
    made.add_argument(
        "files", nargs="+", type=Path, metavar="FILE", help="JPEG, PNG or WebP pictures"
    )
    made.add_argument("--session", metavar="SESSION", help="name or folder; else the last one")
    made.add_argument(
        "--step",
        metavar="NAME",
        help="the step it was taken at, by name or number; else the one at the time it was taken",
    )
    made.add_argument("--by", type=whole, default="", metavar="NAME", help="who took it")


def photo(options: argparse.Namespace) -> int:
    """Lay photos beside a session's log. The report and the owner's sheet show them."""
    from companion.log.finding import find_session
    from companion.log.photos import add_photo

    folder = find_session(options.session)

    def add(path: Path) -> None:
        at = datetime.now().astimezone()
        kept = add_photo(folder, path, step=options.step, by=options.by, at=at)
        step = f"step {kept.step}" if kept.step else "no step"
        print(f"Photo: {folder / kept.file}, at {step}")

    return one_by_one(options.files, add)
