"""What a machine read and took before."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from companion.commands.arguments import add_command


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(commands, "history", history, "companion history quillmoor-tiller")
    made.add_argument("machine", metavar="MACHINE", help="name of the machine, or its spec sheet")


def history(options: argparse.Namespace) -> None:
    """Print what a machine read and took before."""
    from companion.job.load import load_sheet, shipped_sheets
    from companion.log.history import history_lines

    machine = options.machine
    if machine in shipped_sheets() or Path(machine).is_file():
        machine = load_sheet(machine).name
    for line in history_lines(machine):
        print(line)
