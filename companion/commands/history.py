"""What every machine read and took before, and what was said."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from companion.commands.arguments import add_command, html_option, json_option, replace_option
from companion.commands.json_lists import print_list
from companion.commands.progress import progress
from companion.errors import CompanionError, WrongUse

if TYPE_CHECKING:
    from companion.log.index import SessionIndex

MOST_TOLD = 80
"""Most characters of the search words that are repeated where nothing was found."""


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(commands, "history", history, "companion history quillmoor-tiller")
    made.add_argument(
        "machine",
        nargs="?",
        metavar="MACHINE",
        help="name of the machine, or its spec sheet; else all machines",
    )
    made.add_argument("--search", metavar="WORDS", help="find what was said, the latest first")
    json_option(made)
    html_option(made)
    replace_option(made)
    made.add_argument(
        "--reindex", action="store_true", help="make the index anew from the logs, then go on"
    )
    made.add_argument(
        "--limit", type=int, default=50, metavar="NUMBER", help="finds shown at most (50)"
    )


def history(options: argparse.Namespace) -> None:
    """Show the shop's machines, what one read and took, what was said."""
    if options.html is not None and options.machine is None:
        raise CompanionError("--html is the page of a machine: name the machine.")
    if options.html is not None and options.search is not None:
        raise CompanionError("--html is the page of a machine and holds all of it: leave --search.")
    if options.search is not None and not any(sign.isalnum() for sign in options.search):
        raise WrongUse("--search needs a word to look for, as --search 'shear pin'.")
    if options.limit < 1:
        raise CompanionError("--limit must be 1 or more.")
    machine = None if options.machine is None else _machine(options.machine)
    with open_index() as index:
        if options.reindex:
            _reindex(index)
        if options.search is not None:
            _search(index, options.search, machine, options)
        elif options.html is not None:
            from companion.report.machine_page import write_machine

            found = index.machine(str(machine))
            print(f"Page: {write_machine(found, options.html, replace=options.replace)}")
        elif machine is not None:
            _of_machine(index, machine, options)
        elif not options.reindex or options.json:
            _machines(index, options)


def list_amiss() -> str | None:
    """Return the sentence that says why the shop's list of sessions elsewhere cannot be read."""
    from companion.files.data import data_folder
    from companion.log.other_places import unread_list

    return unread_list(data_folder())


def tell_amiss(*sentences: str | None) -> None:
    """Print the reports of sessions that were set aside while the rest goes on."""
    for sentence in sentences:
        if sentence is not None:
            print(f"companion: {sentence}", file=sys.stderr)


@contextmanager
def open_index() -> Iterator[SessionIndex]:
    """Open the index; a terminal shows how far it is, since it may have many logs to read."""
    from companion.log.index import SessionIndex

    with progress("logs read into the index") as tell, SessionIndex(progress=tell) as index:
        yield index


def _machine(named: str) -> str:
    """The name of a machine, which may be given by its spec sheet."""
    from companion.shelf.load import load_sheet
    from companion.shelf.own import is_sheet, sheet_named

    if is_sheet(named):
        return load_sheet(sheet_named(named)).name
    return named


def _reindex(index: SessionIndex) -> None:
    read = index.rebuild()
    print(f"Index made anew from {read} session{'' if read == 1 else 's'}.", file=sys.stderr)


def _machines(index: SessionIndex, options: argparse.Namespace) -> None:
    from companion.log.index_lines import (
        gone_lines,
        gone_values,
        machine_line,
        machine_values,
        unread_line,
    )
    from companion.log.sessions import gone_sessions

    machines = index.machines()
    unread = index.sessions(status="unreadable", archived=None, limit=None).rows
    tell_amiss(unread_line(unread), list_amiss())
    if options.json:
        print_list(
            "machines",
            [machine_values(each) for each in machines],
            gone=gone_values(gone_sessions()),
        )
        return
    gone = gone_sessions()
    if not machines and not gone:
        print("No machine yet: its history begins with 'companion work --machine SPEC'.")
    for each in machines:
        print(machine_line(each))
    for line in gone_lines(gone):
        print(line)


def _of_machine(index: SessionIndex, machine: str, options: argparse.Namespace) -> None:
    from companion.log.history import history_lines
    from companion.log.index_lines import history_values

    if options.json:
        print_list("history", [history_values(index.machine(machine))])
        return
    for line in history_lines(machine, index):
        print(line)


def _shortened(words: str) -> str:
    """The search words, short enough to repeat: somebody may have pasted a whole page."""
    return words if len(words) <= MOST_TOLD else f"{words[: MOST_TOLD - 1]}…"


def _search(
    index: SessionIndex, words: str, machine: str | None, options: argparse.Namespace
) -> None:
    from companion.log.index_lines import hit_line, hit_values

    if machine is not None:
        # "No such machine" and "nothing was said of it" are two different answers.
        machine = index.machine(machine).row.key
    found = index.search(words, machine=machine, limit=options.limit)
    if options.json:
        print_list("finds", [hit_values(each) for each in found.rows], total=found.total)
        return
    for hit in found.rows:
        print(hit_line(hit))
    if not found.rows:
        print(f"Nothing said has the words '{_shortened(words)}'.")
    elif found.total > len(found.rows):
        print(f"{len(found.rows)} of {found.total}, the latest; --limit shows more.")
