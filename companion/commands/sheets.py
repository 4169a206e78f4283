"""The spec sheets."""

from __future__ import annotations

import argparse
import json
from typing import Any

from companion.commands.arguments import add_command


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(commands, "sheets", sheets, "companion sheets quillmoor-tiller")
    made.add_argument(
        "sheet", nargs="?", metavar="SPEC", help="print this one: a shipped name or a TOML file"
    )
    made.add_argument("--schema", action="store_true", help="print the JSON Schema of a spec sheet")


def sheets(options: argparse.Namespace) -> None:
    """List the shipped spec sheets, print one as a page, or print their JSON Schema."""
    from companion.report.sheet_page import sheet_page
    from companion.settings import load_settings
    from companion.shelf.load import load_sheet, sheet_schema, shipped_sheets

    if options.schema:
        print(json.dumps(sheet_schema(), indent=2))
        return
    if options.sheet is not None:
        print(sheet_page(load_sheet(options.sheet), ounce=load_settings().ounce), end="")
        return
    for name in shipped_sheets():
        sheet = load_sheet(name)
        print(f"{name}: {sheet.name} ({sheet.kind}){', invented' if sheet.invented else ''}")
