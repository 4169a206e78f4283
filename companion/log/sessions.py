"""Where the sessions of a shop are: their folders, and whether the log in one has changed."""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Container
from datetime import datetime
from pathlib import Path

from companion.errors import CompanionError
from companion.files.data import DATA_VARIABLE, data_folder
from companion.files.plain import NOT_THERE, real_path, stands_there
from companion.log.clips import CLIP_FOLDER
from companion.log.line import LOG_NAME
from companion.log.names import slug
from companion.log.other_places import gone, other_places
from companion.log.tip import TIP_NAME
from companion.log.went_on import left_logs

MADE_NAME = re.compile(r"^\d{4}-\d{2}-\d{2}-\d{4}-|-\d{1,2}$")
"""What ``new_session_folder`` puts around the name of a machine."""

LogSign = tuple[int, int]
"""Size of a log in bytes and when it was last written, in nanoseconds: changed when it was."""

UNSEEN: LogSign = (-1, -1)
"""Sign of a log that may be there and cannot be looked at, or is something else than a file."""


def sessions_folder() -> Path:
    """Return the folder in the data folder that the session folders stand in."""
    return data_folder() / "sessions"


def new_session_folder(at: datetime, machine: str) -> Path:
    """Return the path for a new session, such as ``2026-03-04-0915-garden-tiller``; none is made.

    Args:
        at: When it begins.
        machine: Name of the machine, or any other word to know it by.
    """
    return free_folder(sessions_folder() / f"{at:%Y-%m-%d-%H%M}-{slug(machine)}")


def free_folder(folder: Path) -> Path:
    """Return this path, or the same with ``-2``, ``-3`` … where a session is there already."""
    free, turn = folder, 1
    while stands_there(free / LOG_NAME) or stands_there(free / TIP_NAME):
        if not os.path.lexists(free):
            # No name can be looked at here, so none counts as free: making the folder will say why.
            return free
        turn += 1
        free = folder.with_name(f"{folder.name}-{turn}")
    return free


def session_folders() -> list[Path]:
    """Return every session folder of the shop: those in the data folder, then those that were put
    elsewhere and are still there.

    Raises:
        CompanionError: If the data folder cannot be read.
    """
    return [Path(folder) for folder in session_logs()]


def session_logs(data: Path | None = None) -> dict[str, LogSign]:
    """Return the same as paths, each with the size of its log and when that was last written.

    Args:
        data: The data folder; that of this user if left out.

    Raises:
        CompanionError: If the data folder cannot be read.
    """
    base = (data_folder() if data is None else data) / "sessions"
    found: dict[str, LogSign] = {}
    try:
        with os.scandir(base) as entries:
            inside = {entry.name: entry.is_symlink() for entry in entries}
    except FileNotFoundError:
        inside = {}
    except OSError as error:
        raise CompanionError(
            f"The sessions in {base} cannot be listed ({error.strerror}); check the folder and its "
            f"permissions, or set {DATA_VARIABLE} to another folder."
        ) from None
    # Thousands of them are looked at whenever the sessions are listed: no Path is made for each.
    above = os.path.join(base, "")
    for name in sorted(inside):
        folder = f"{above}{name}"
        sign = log_sign(folder)
        if sign is not None:
            found[folder] = sign
    linked = {real_path(base / name) for name, is_link in inside.items() if is_link}
    for outside in other_places(base.parent):
        sign = log_sign(str(outside))
        if sign is not None and real_path(outside) not in linked:
            found[str(outside)] = sign
    # A session that went on in another log counts as that one.
    for left in left_logs(found):
        found.pop(left, None)
    return found


def log_sign(folder: str) -> LogSign | None:
    """Return size and time of a session's log; None where the folder has none.

    ``UNSEEN`` where it cannot be looked at, or something else has its name: a session that nobody
    can read is reported, and not left out.
    """
    try:
        entry = os.lstat(f"{folder}{os.sep}{LOG_NAME}")
    except ValueError:
        return None
    except OSError as error:
        return None if error.errno in NOT_THERE else UNSEEN
    return (entry.st_size, entry.st_mtime_ns) if stat.S_ISREG(entry.st_mode) else UNSEEN


def gone_sessions(data: Path | None = None, logs: Container[str] = ()) -> dict[Path, str]:
    """Return the session folders whose log is gone, each with its machine: those that were put
    elsewhere, by the shop's list, and those in the data folder, by their names.

    Args:
        data: The data folder; that of this user if left out.
        logs: Folders that were just seen to have their log; they need not be looked at again.
    """
    data = data_folder() if data is None else data
    found = gone(data)
    above = os.path.join(data, "sessions", "")
    try:
        inside = sorted(os.listdir(above))
    except OSError:
        inside = []
    # Thousands of them are looked at: no Path is made for each.
    for name in inside:
        if f"{above}{name}" in logs:
            continue
        if not stands_there(f"{above}{name}{os.sep}{LOG_NAME}") and any(
            os.path.exists(f"{above}{name}{os.sep}{left}") for left in (TIP_NAME, CLIP_FOLDER)
        ):
            found[Path(above, name)] = MADE_NAME.sub("", name)
    if found:
        went_on = {real_path(Path(each)) for each in left_logs(session_logs(data))}
        found = {each: name for each, name in found.items() if real_path(each) not in went_on}
    return found
