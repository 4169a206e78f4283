"""The sessions of the shop: listed, put away, thinned out."""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from companion.commands.arguments import add_command, json_option
from companion.commands.json_lists import print_list
from companion.errors import CompanionError

if TYPE_CHECKING:
    from companion.log.thinned import OldClips


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(commands, "sessions", sessions, "companion sessions")
    json_option(made)
    made.add_argument(
        "--archived", action="store_true", help="list those that were put away instead"
    )
    what = made.add_mutually_exclusive_group()
    what.add_argument(
        "--archive",
        nargs="+",
        metavar="SESSION",
        help="put sessions away: off the list; what stands in them still holds their machine",
    )
    what.add_argument(
        "--bring-back", nargs="+", metavar="SESSION", help="put sessions on the list again"
    )
    what.add_argument(
        "--thin",
        nargs="*",
        metavar="SESSION",
        help="remove the sound of old calls, of these sessions or of all; their words are kept",
    )
    what.add_argument(
        "--forget",
        metavar="SESSION",
        help="take a session whose folder is gone off the list; what it said is not known any more",
    )
    made.add_argument(
        "--older-than",
        type=int,
        metavar="DAYS",
        help="what --thin takes for old; else keep_clips of the settings",
    )
    made.add_argument("--yes", action="store_true", help="do as --thin says, without asking")


def sessions(options: argparse.Namespace) -> None:
    """List the sessions, or look after them."""
    if options.forget is not None:
        _forget(options.forget)
    elif options.archive is not None:
        _archive(options.archive)
    elif options.bring_back is not None:
        _bring_back(options.bring_back)
    elif options.thin is not None:
        _thin(options)
    else:
        _list(options)


def _list(options: argparse.Namespace) -> None:
    from companion.commands.history import list_amiss, open_index, tell_amiss
    from companion.log.index_lines import (
        gone_lines,
        gone_values,
        machine_values,
        session_line,
        session_values,
    )
    from companion.log.sessions import gone_sessions

    with open_index() as index:
        found = index.sessions(archived=options.archived, limit=None).rows
        away = 0 if options.archived else index.sessions(archived=True, limit=1).total
        machines = index.machines()
    unread = sum(each.status == "unreadable" for each in found)
    if unread:
        tell_amiss(f"{_sessions(unread)} could not be read; the list says why of each.")
    tell_amiss(list_amiss())
    if options.json:
        standing = [each for each in machines if each.standing and not options.archived]
        print_list(
            "sessions",
            [session_values(each) for each in found],
            do_not_start=[machine_values(each) for each in standing],
            gone=[] if options.archived else gone_values(gone_sessions()),
            put_away=away,
        )
        return
    if not found and not away:
        none = "No session was put away." if options.archived else "No session yet"
        print(none if options.archived else f"{none}: start one with 'companion work'.")
    now = datetime.now().astimezone()
    names = Counter(each.name for each in found)
    for each in found:
        print(session_line(each, now, by_path=names[each.name] > 1))
    if options.archived:
        return
    for machine in machines:
        if machine.standing:
            serial = f" ({machine.serial})" if machine.serial else ""
            print(f"{machine.name}{serial}: DO NOT START: {', '.join(machine.standing)}")
    for line in gone_lines(gone_sessions()):
        print(line)
    if away:
        print(f"{_sessions(away)} put away: 'companion sessions --archived'")


def _archive(names: Sequence[str]) -> None:
    from companion.log.archive import archive
    from companion.log.finding import find_session
    from companion.log.summaries import summarize

    folders = [find_session(name) for name in names]
    open_ones = []
    for folder in folders:
        try:
            if summarize(folder).status == "open":
                open_ones.append(folder.name)
        except CompanionError:
            # A session that cannot be read may be put away as well: it still holds its machine.
            continue
    if open_ones:
        raise CompanionError(
            f"{', '.join(open_ones)} is still open; park or close the job before it is put away. "
            "Nothing was put away."
        )
    archive(folders)
    for folder in folders:
        print(f"Put away: {folder.name}. What stands in it still holds its machine.")


def _bring_back(names: Sequence[str]) -> None:
    from companion.log.archive import bring_back
    from companion.log.finding import find_session

    folders = [find_session(name) for name in names]
    bring_back(folders)
    for folder in folders:
        print(f"On the list: {folder.name}")


def _thin(options: argparse.Namespace) -> None:
    from companion.files.limits import MOST_DAYS
    from companion.log.index import SessionIndex
    from companion.log.index_lines import size_words
    from companion.log.thinned import remove_clips
    from companion.settings import load_settings

    days = options.older_than if options.older_than is not None else load_settings().keep_clips
    if days is None:
        raise CompanionError(
            "How old is old? Say it with --older-than DAYS, or set keep_clips in the settings."
        )
    if days < 1:
        raise CompanionError("--older-than must be 1 day or more.")
    if days > MOST_DAYS:
        raise CompanionError(f"--older-than must be {MOST_DAYS} days or less.")
    now = datetime.now().astimezone()
    with SessionIndex() as index:
        found = _old(options.thin, now - timedelta(days=days))
        for old in found:
            kept = f", {_clips(old.kept)} of unconfirmed notes stay" if old.kept else ""
            print(f"{old.folder.name}  {_clips(len(old.clips))}, {size_words(old.size)}{kept}")
        going = [old for old in found if old.clips]
        if not going:
            print(f"No clip is older than {days} day{'' if days == 1 else 's'}.")
            return
        count, size = sum(len(old.clips) for old in going), sum(old.size for old in going)
        asked = f"Remove {_clips(count)}, {size_words(size)}, for good? Every word is kept. [y/N] "
        if not options.yes and not _affirmed(asked):
            print("Nothing was removed.")
            return
        for old in going:
            remove_clips(old, now)
        index.look_again([old.folder for old in going])
    print(f"Removed: {_clips(count)}, {size_words(size)}.")


def _old(names: Sequence[str], before: datetime) -> list[OldClips]:
    from companion.log.finding import find_session
    from companion.log.sessions import session_folders
    from companion.log.thinned import old_clips

    folders = [find_session(name) for name in names] if names else session_folders()
    found = []
    for folder in folders:
        try:
            old = old_clips(folder, before)
        except CompanionError as error:
            if names:
                raise
            print(f"companion: {folder.name} is left alone: {error}", file=sys.stderr)
            continue
        if old.clips or old.kept:
            found.append(old)
    return found


def _affirmed(question: str) -> bool:
    try:
        return input(question).strip().lower() in ("y", "yes")
    except EOFError:
        print()
        return False


def _forget(name: str) -> None:
    from companion.files.data import data_folder
    from companion.log.other_places import forget
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


def _clips(count: int) -> str:
    return f"{count} clip{'' if count == 1 else 's'}"


def _sessions(count: int) -> str:
    return f"{count} session{'' if count == 1 else 's'}"
