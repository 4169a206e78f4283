"""Sessions that were put outside the data folder: where they are, so that their machine's history
has them too.

The list is a file in the data folder to which a line is appended when such a session is opened: its
absolute path, as a JSON string. It is only a signpost. A folder that was moved or deleted is passed
over, as is a line that was cut short.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable
from pathlib import Path

from companion.errors import CompanionError
from companion.log.data import DATA_VARIABLE, data_folder
from companion.log.line import LOG_NAME

LIST_NAME = "elsewhere.jsonl"
"""File name of the list inside the data folder."""


def list_elsewhere(folder: Path) -> None:
    """Put a session folder on the list, unless it stands in the data folder or is on it already.

    Raises:
        CompanionError: If the list cannot be written.
    """
    data = data_folder()
    absolute = folder.resolve()
    if absolute.parent == (data / "sessions").resolve() or absolute in _listed(data):
        return
    line = json.dumps(str(absolute)) + "\n"
    path = data / LIST_NAME
    try:
        data.mkdir(parents=True, exist_ok=True)
        with path.open("ab") as listed:
            # What a cut-short line left behind must not swallow this one.
            listed.write(b"\n" + line.encode() if _is_cut_short(path) else line.encode())
            listed.flush()
            os.fsync(listed.fileno())
    except OSError as error:
        raise CompanionError(
            f"{path} cannot be written ({error.strerror}): 'companion sessions' and the machine's "
            f"history will not know of {folder}; check the folder, or set {DATA_VARIABLE}."
        ) from None


def elsewhere(data: Path, besides: Iterable[Path] = ()) -> list[Path]:
    """Return the listed session folders that are still there.

    Args:
        data: The data folder.
        besides: Folders that are known already.
    """
    known = {folder.resolve() for folder in besides}
    return [
        folder
        for folder in _listed(data)
        if folder.resolve() not in known and (folder / LOG_NAME).is_file()
    ]


def _listed(data: Path) -> list[Path]:
    try:
        lines = (data / LIST_NAME).read_bytes().splitlines()
    except OSError:
        return []
    paths: dict[Path, None] = {}
    for line in lines:
        try:
            path = json.loads(line)
        except ValueError:
            continue
        if isinstance(path, str) and "\0" not in path and Path(path).is_absolute():
            paths[Path(path)] = None
    return list(paths)


def _is_cut_short(path: Path) -> bool:
    with path.open("rb") as listed:
        listed.seek(0, os.SEEK_END)
        if listed.tell() == 0:
            return False
        listed.seek(-1, os.SEEK_END)
        return listed.read(1) != b"\n"
