"""Pages of a session that are written to files."""

from __future__ import annotations

import argparse
import sys
from datetime import datetime
from pathlib import Path
from typing import Any

from companion.commands.arguments import (
    add_command,
    html_option,
    json_option,
    order_options,
    replace_option,
    sessions_argument,
)
from companion.commands.given import one_by_one
from companion.commands.json_lists import print_list
from companion.errors import CompanionError, WrongUse


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(commands, "report", report, "companion report first-session second-session")
    sessions_argument(made)
    html_option(made)
    made.add_argument(
        "--handover", type=Path, metavar="FILE", help="write the sheet for the owner, a page"
    )
    made.add_argument(
        "--parts", type=Path, metavar="FILE", help="write the parts list: .html, .txt or .csv"
    )
    made.add_argument(
        "--transcript", action="store_true", help="print everything that was said with the report"
    )
    order_options(made)
    replace_option(made)
    made = add_command(commands, "tags", tags, "companion tags first-session --html tags.html")
    sessions_argument(made)
    html_option(made)
    made.add_argument(
        "--rules",
        action="store_true",
        help="print the table of what holds the start and what ends it, for the shop to read",
    )
    json_option(made)
    replace_option(made)


def report(options: argparse.Namespace) -> int:
    """Write the report of sessions, the owner's sheet or the parts list."""
    _one_file_each(options, "html", "handover", "parts")
    return one_by_one(options.sessions or [None], lambda name: _report(name, options))


def _one_file_each(options: argparse.Namespace, *names: str) -> None:
    """Refuse one file for what several sessions would be written to."""
    for name in names:
        if len(options.sessions) > 1 and getattr(options, name) is not None:
            raise WrongUse(f"--{name} is one file: name one session with it.")


def _report(name: str | None, options: argparse.Namespace) -> None:
    from companion.log.finding import find_session
    from companion.log.signatures import sign_log
    from companion.log.work_order import keep_work_order, work_order
    from companion.report.handover import write_handover
    from companion.report.page import write_report
    from companion.report.parts import write_parts
    from companion.report.shop import Shop
    from companion.settings import load_settings

    settings = load_settings()
    shop = Shop(settings.shop_name, settings.shop_address, settings.shop_phone)
    order = work_order(options.customer, options.work_order)
    folder = find_session(name)
    if order is not None:
        keep_work_order(folder, order, datetime.now().astimezone())
    try:
        sign_log(folder, datetime.now().astimezone())
    except CompanionError as error:
        # The papers are written all the same.
        print(f"companion: {error}", file=sys.stderr)
    replace = options.replace
    if options.handover is not None:
        sheet = write_handover(folder, options.handover, shop, replace=replace)
        print(f"Sheet for the owner: {sheet}")
    if options.parts is not None:
        print(f"Parts list: {write_parts(folder, options.parts, replace=replace)}")
    # Written last, so that it can link to the others.
    if options.html is not None or (options.handover is None and options.parts is None):
        page = write_report(folder, options.html, transcript=options.transcript, replace=replace)
        print(f"Report: {page}")


def tags(options: argparse.Namespace) -> int:
    """Write the hanging tags of sessions as pages to print. With --rules, print what hangs them."""
    if options.rules:
        from companion.job.danger_lines import danger_lines, danger_values
        from companion.shelf.rules import shipped_rules

        dangers = shipped_rules().dangers
        if options.json:
            print_list("rules", danger_values(dangers))
        else:
            print("\n".join(danger_lines(dangers)))
        return 0
    if options.json:
        raise WrongUse("--json goes with --rules; the tags themselves are written as a page.")
    from companion.log.finding import find_session
    from companion.report.hang_tags import write_tags

    _one_file_each(options, "html")

    def write(name: str | None) -> None:
        page = write_tags(find_session(name), options.html, replace=options.replace)
        print(f"Tags: {page}")

    return one_by_one(options.sessions or [None], write)
