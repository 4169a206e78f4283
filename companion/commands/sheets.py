"""The spec sheets."""

from __future__ import annotations

import argparse
import json
from typing import Any

from companion.commands.arguments import add_command, json_option, schema_option
from companion.commands.json_lists import print_list


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(commands, "sheets", sheets, "companion sheets quillmoor-tiller")
    made.add_argument(
        "names", nargs="*", metavar="SPEC", help="print these: names or TOML files; else list all"
    )
    schema_option(made)
    json_option(made)


def sheets(options: argparse.Namespace) -> int:
    """List the spec sheets, your own first, or print some. With --schema, print the JSON Schema."""
    from companion.commands.listing import as_json, print_named, told, yours
    from companion.report.sheet_page import sheet_page
    from companion.settings import load_settings
    from companion.shelf.listed import listed_sheets
    from companion.shelf.load import load_sheet, sheet_schema
    from companion.shelf.own import own_sheets, sheet_named

    if options.schema:
        print(json.dumps(sheet_schema(), indent=2))
        return 0
    if options.names:
        ounce = load_settings().ounce
        return print_named(
            options.names,
            "sheets",
            read=lambda name: load_sheet(sheet_named(name)),
            as_json=options.json,
            text=lambda sheet: sheet_page(sheet, ounce=ounce).rstrip("\n"),
        )
    listed = listed_sheets()
    if options.json:
        print_list(
            "sheets",
            (
                as_json(each)
                if each.table is None
                else as_json(each)
                | {
                    "machine": each.table.name,
                    "kind": each.table.kind,
                    "serial": each.table.identification.serial,
                    "invented": each.table.invented,
                }
                for each in listed
            ),
            folder=str(own_sheets()),
        )
        return 0
    for each in listed:
        read = each.table
        said = f"{read.name} ({read.kind}){', invented' if read.invented else ''}" if read else ""
        print(told(each, said))
    yours("sheet", own_sheets(), any(each.own for each in listed))
    return 0
