"""Which logs were lost while in use and went on in another folder: those count as that one, and not
a second time.

The new log says in a record in place of which folder it goes on. A log whose every byte stands in
the new one adds nothing. One that was written to since does, and counts. Beside the new log stands
``log.left`` as a signpost, so that no other log need be read for it: it holds by what the file that
was lost is known wherever it was moved.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from companion.errors import CompanionError
from companion.files.data import data_folder
from companion.files.disk import write_once
from companion.files.plain import open_plain, plain_bytes, real_path
from companion.log.line import LOG_NAME
from companion.log.other_places import other_places

LEFT_NAME = "log.left"
"""File name of the signpost inside a session folder."""

MOST_BYTES = 1 << 16
"""Of the signpost; it takes two hundred."""

NUMBERED = re.compile(r"-\d+$")
"""What ``go_on_anew`` puts at the end of every name; no other folder is looked into."""

_PART = 1 << 20
_shown: set[tuple[object, ...]] = set()
"""Answers that hold as long as the files are the same."""


@dataclass(frozen=True, slots=True)
class _Signpost:
    """What stands beside one new log: the folders that were left, and the file of the last."""

    folders: tuple[Path, ...] = ()
    file: tuple[int, int] | None = None


def put_signpost(folder: Path, left: Iterable[Path], lost: os.stat_result) -> None:
    """Let a new log be known as one that goes on in place of others.

    Args:
        folder: Of the new log.
        left: The folders whose logs were lost, one after the other.
        lost: Of the file of the last of them.
    """
    line = json.dumps(
        {"left": [str(each) for each in left], "device": lost.st_dev, "inode": lost.st_ino}
    )
    # Without the signpost the old log counts as another session: nothing is lost.
    with contextlib.suppress(OSError):
        write_once(folder / LEFT_NAME, f"{line}\n".encode())


def went_on_in(folder: Path) -> Path | None:
    """Return where the job of a log that was lost goes on; None where it does not.

    Args:
        folder: The session folder; it need not be there any more.
    """
    left = real_path(folder)
    found: Path | None = None
    named: set[Path] = set()
    for each in _may_go_on(left):
        places = _signpost_of(str(each)).folders
        # The last one of several names all those before it.
        later = left in places and not named.issuperset(places)
        if later and real_path(each) != left and _says_so(str(each), left):
            found, named = each, set(places)
    return found


def refuse_lost(folder: Path) -> None:
    """Let nobody write to a log whose job goes on in another one.

    Args:
        folder: The session folder.

    Raises:
        CompanionError: If it does; names the other one.
    """
    further = went_on_in(folder)
    if further is not None:
        raise CompanionError(
            f"The log in {folder} was lost while in use, and its job goes on in {further}, which "
            "has every record that was read back: name that folder instead. Nothing was changed."
        )


def left_logs(folders: Mapping[str, object]) -> dict[str, str]:
    """Return which session folders went on in which other, and hold nothing that this one does not;
    among them folders that are gone.

    Args:
        folders: Those of the shop that have a log.
    """
    found: dict[str, str] = {}
    for new in folders:
        signpost = _signpost_of(new)
        if signpost.file is None:
            continue
        # A folder that was moved is known by its file, any other by its name.
        olds = {old for old in folders if _file(old) == signpost.file}
        for left in signpost.folders:
            olds |= {str(left)} | {
                old
                for old in folders
                if os.path.basename(old) == left.name and real_path(Path(old)) == left
            }
        for old in olds - {new}:
            gone = not os.path.lexists(os.path.join(old, LOG_NAME))
            if _says_so(new, Path(old)) if gone else _holds(new, old):
                found[old] = new
    return found


def _may_go_on(left: Path) -> Iterator[Path]:
    """Every place that ``go_on_anew`` may have chosen, by name."""
    stem = NUMBERED.sub("", left.name)
    for parent in dict.fromkeys((left.parent, data_folder() / "sessions")):
        with contextlib.suppress(OSError):
            for name in sorted(os.listdir(parent)):
                if name.startswith(stem) and NUMBERED.search(name):
                    yield parent / name
    yield from other_places(data_folder())


def _signpost_of(folder: str) -> _Signpost:
    if not NUMBERED.search(folder):
        return _Signpost()
    try:
        line = json.loads(plain_bytes(Path(folder, LEFT_NAME), MOST_BYTES))
        folders = tuple(real_path(Path(each)) for each in line["left"])
        return _Signpost(folders, (int(line["device"]), int(line["inode"])))
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return _Signpost()


def _says_so(new: str, left: Path) -> bool:
    """Whether a log has the record that it goes on in place of this folder."""
    key = (new, _file(new), left)
    if key in _shown:
        return True
    record = b'"left":' + json.dumps(str(left), ensure_ascii=False).encode(errors="replace")
    with contextlib.suppress(OSError), open_plain(Path(new, LOG_NAME)) as log:
        if any(record in line for line in log):
            _shown.add(key)
            return True
    return False


def _holds(new: str, old: str) -> bool:
    """Whether a log has every byte of another, and more."""
    try:
        with open_plain(Path(new, LOG_NAME)) as its, open_plain(Path(old, LOG_NAME)) as other:
            entry = os.fstat(other.fileno())
            key = (new, _file(new), old, entry.st_ino, entry.st_size, entry.st_mtime_ns)
            if key in _shown:
                return True
            if entry.st_size >= os.fstat(its.fileno()).st_size:
                return False
            for place in range(0, entry.st_size, _PART):
                part = min(_PART, entry.st_size - place)
                if its.read(part) != other.read(part):
                    return False
    except OSError:
        return False
    _shown.add(key)
    return True


def _file(folder: str) -> tuple[int, int] | None:
    try:
        entry = os.lstat(os.path.join(folder, LOG_NAME))
    except (OSError, ValueError):
        return None
    return entry.st_dev, entry.st_ino
