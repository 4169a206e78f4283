"""Sessions put away: out of the daily list, and still where they were.

Which ones is a file in the data folder, a JSON list. What their logs say counts as before: a tag
holds its machine whether or not anybody looks at the list it stands in.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path

from companion.errors import CompanionError
from companion.files.data import data_folder
from companion.files.disk import replace_file
from companion.files.limits import LARGEST_LIST
from companion.files.plain import real_path, stands_there
from companion.files.reading import json_of

ARCHIVE_NAME = "archived.json"
"""File name of the list inside the data folder."""


WHAT = "list of sessions that were put away"


def archived(data: Path | None = None) -> frozenset[str]:
    """Return the folders of the sessions that are put away, as absolute paths.

    Args:
        data: The data folder; that of this user if left out.
    """
    base = data_folder() if data is None else data
    try:
        entries = json_of(base / ARCHIVE_NAME, WHAT, LARGEST_LIST)
    except CompanionError:
        # The list only keeps the daily list short: without it all sessions are shown.
        return frozenset()
    if not isinstance(entries, list):
        return frozenset()
    # Those in the data folder are kept by name, so that it may be moved.
    return frozenset(
        str(base / "sessions" / each)
        for each in entries
        if isinstance(each, str) and each and "\0" not in each
    )


def archive(folders: Iterable[Path]) -> None:
    """Put sessions away.

    Raises:
        CompanionError: If the list cannot be written.
    """
    _write(archived() | {_known_as(folder) for folder in folders})


def bring_back(folders: Iterable[Path]) -> None:
    """Take sessions into the daily list again; those that are in it stay.

    Raises:
        CompanionError: If the list cannot be written.
    """
    before = archived()
    left = before - {_known_as(folder) for folder in folders}
    if left != before:
        _write(left)


def _known_as(folder: Path) -> str:
    """A session folder as the shop's list of sessions has it."""
    base = data_folder() / "sessions"
    if real_path(folder).parent == real_path(base):
        return str(base / folder.name)
    return str(real_path(folder))


def _write(folders: Iterable[str]) -> None:
    base = data_folder() / "sessions"
    names = sorted(path.name if path.parent == base else str(path) for path in map(Path, folders))
    path = data_folder() / ARCHIVE_NAME
    if stands_there(path):
        # Writing would lose what stands in the list and cannot be read.
        json_of(path, WHAT, LARGEST_LIST)
    try:
        replace_file(path, json.dumps(names, indent=1).encode())
    except OSError as error:
        raise CompanionError(
            f"{path} cannot be written ({error.strerror}); check the folder and its permissions."
        ) from None
