"""Sessions out of the program and back in."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from companion.commands.arguments import add_command, json_option, replace_option
from companion.commands.given import one_by_one
from companion.commands.json_lists import print_list
from companion.commands.progress import progress
from companion.errors import WrongUse

FORMS = ("csv", "json", "parquet", "xlsx")


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(
        commands, "export", export, "companion export --tables shop-tables --form parquet"
    )
    made.add_argument(
        "sessions", nargs="*", metavar="SESSION", help="names or folders; else every session"
    )
    made.add_argument(
        "--machine", metavar="MACHINE", help="only those of this machine, or its spec sheet"
    )
    made.add_argument(
        "--since",
        metavar="DATE",
        help="only those in which something was recorded on this day or later, as 2026-03-01",
    )
    made.add_argument(
        "--tables", type=Path, metavar="FOLDER", help="write tables there, a file each"
    )
    made.add_argument("--form", choices=FORMS, default="csv", help="form of the tables; else csv")
    made.add_argument(
        "--only", action="append", default=[], metavar="TABLE", help="this table; may be repeated"
    )
    made.add_argument(
        "--zip", type=Path, metavar="FILE", help="write the sessions whole, with their clips"
    )
    replace_option(made)
    made.add_argument(
        "--columns", action="store_true", help="print what each column of each table holds"
    )
    json_option(made)
    made = add_command(commands, "import", import_, "companion import first-session.zip")
    made.add_argument(
        "files", nargs="+", type=Path, metavar="FILE", help="ZIPs that 'export' has made"
    )


def export(options: argparse.Namespace) -> int:
    """Write sessions to tables, or to a ZIP for another machine. CSV is the usual form."""
    if options.columns:
        from companion.transfer.columns import column_lines, column_values

        if options.json:
            print_list("columns", column_values())
        else:
            print("\n".join(column_lines()))
        return 0
    if options.json:
        raise WrongUse("--json goes with --columns; tables in JSON are written with --form json.")
    if options.tables is None and options.zip is None:
        raise WrongUse("Say what to write: --tables FOLDER, or --zip FILE with the clips.")
    from companion.settings import load_settings
    from companion.transfer.chosen import choose
    from companion.transfer.counted import counted

    chosen = choose(options.sessions, options.machine, options.since)
    shop = load_settings().shop_name or None
    left_out: list[str] = []
    if options.tables is not None:
        from companion.transfer.tables import write_tables

        with progress("sessions written to tables") as tell:
            written = write_tables(
                replace(chosen, progress=tell),
                options.tables,
                options.form,
                only=options.only,
                shop=shop,
                replace=options.replace,
            )
        print(f"Tables of {counted(written.sessions, 'session')}:")
        for name, count in written.rows.items():
            print(f"  {name}: {counted(count, 'row')}")
        for file in written.files:
            print(file)
        left_out += written.left_out
    if options.zip is not None:
        from companion.transfer.packing import pack

        with progress("sessions packed") as tell:
            packed = pack(
                replace(chosen, progress=tell), options.zip, shop=shop, replace=options.replace
            )
        held = f"{counted(len(packed.sessions), 'session')}, {counted(packed.files, 'file')}"
        print(f"{packed.file}: {held}")
        left_out += packed.left_out
    return _tell(left_out)


def import_(options: argparse.Namespace) -> int:
    """Verify ZIPs of sessions and put them into the data folder."""
    from companion.transfer.placing import import_sessions

    def place(file: Path) -> int:
        placed = import_sessions(file)
        for each in placed:
            if each.what != "failed":
                print(each.line)
        return _tell([each.line for each in placed if each.what == "failed"])

    return one_by_one(options.files, place)


def _tell(left_out: Sequence[str]) -> int:
    for line in dict.fromkeys(left_out):
        print(f"companion: {line}", file=sys.stderr)
    return 1 if left_out else 0
