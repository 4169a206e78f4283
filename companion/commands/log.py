"""Logs: checked, shown, described."""

from __future__ import annotations

import argparse
import json
import sys
from typing import Any

from companion.commands.arguments import add_command, json_option, sessions_argument
from companion.commands.given import one_by_one
from companion.commands.json_lists import print_list
from companion.errors import CompanionError


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    log = commands.add_parser("log", help="Check, show or describe a log.").add_subparsers(
        required=True, metavar="WHAT"
    )
    made = add_command(log, "check", log_check, "companion log check first-session second-session")
    sessions_argument(made)
    made.add_argument(
        "--anchor",
        metavar="ANCHOR",
        help="what stood at some time, as a report or an owner's sheet has it: was any of it "
        "changed since?",
    )
    made.add_argument(
        "--key",
        metavar="PUBLIC",
        help="public key by which the log must be signed; else the shop's own, if it has one",
    )
    json_option(made)
    made = add_command(log, "show", log_show, "companion log show first-session")
    sessions_argument(made)
    made.add_argument(
        "--marks", action="store_true", help="only the clips of which it is known what was said"
    )
    json_option(made)
    add_command(log, "schema", log_schema, "companion log schema")


def log_check(options: argparse.Namespace) -> int:
    """Check a log's chain, schema and clips."""
    from companion.log.anchor import Anchor
    from companion.log.check import check_log
    from companion.log.finding import find_session
    from companion.log.shop_key import public_hex, read_public, shop_key

    anchor = None if options.anchor is None else Anchor.read(options.anchor)
    public = None if options.key is None else read_public(options.key)
    if public is None:
        try:
            own = shop_key()
            public = None if own is None else public_hex(own)
        except CompanionError as error:
            print(f"companion: {error}", file=sys.stderr)
    found: list[dict[str, Any]] = []

    def check(name: str | None) -> int:
        checked = check_log(
            find_session(name), anchor=anchor, public=public, must=options.key is not None
        )
        if options.json:
            found.append(checked.values())
        else:
            print("\n".join(checked.lines()))
        return 0 if checked.whole else 1

    status = one_by_one(options.sessions or [None], check)
    if options.json:
        print_list("checks", found)
    return status


def log_show(options: argparse.Namespace) -> int:
    """Print a log as readable lines."""
    from companion.enroll.marked import marked_lines, marked_values
    from companion.log.finding import find_session
    from companion.report.log_lines import log_lines, log_values

    lines = marked_lines if options.marks else log_lines
    values = marked_values if options.marks else log_values
    found: list[dict[str, Any]] = []

    def show(name: str | None) -> None:
        folder = find_session(name)
        if options.json:
            found.extend({"session": folder.name, **each} for each in values(folder))
            return
        if len(options.sessions) > 1:
            print(f"{folder}:")
        for line in lines(folder):
            print(line)

    status = one_by_one(options.sessions or [None], show)
    if options.json:
        print_list("marks" if options.marks else "records", found)
    return status


def log_schema(options: argparse.Namespace) -> None:
    """Print the JSON Schema of a log record."""
    from companion.log.schema import record_schema

    print(json.dumps(record_schema(), indent=2))
