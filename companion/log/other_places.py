"""Sessions that were put outside the data folder: where they are, so that their machine's history
has them too.

The list is a file in the data folder to which a line is appended when such a session is opened: a
JSON object with its absolute path and its machine; older lines hold the path alone, as a string. It
is only a signpost. A line that was cut short is passed over. A folder that was moved or deleted is
listed as gone until it is forgotten: what its log said of the machine is not known any more.
"""

from __future__ import annotations

import json
from pathlib import Path

from companion.errors import CompanionError
from companion.files.data import DATA_VARIABLE, data_folder
from companion.files.disk import append_line, replace_file
from companion.files.limits import LARGEST_LIST
from companion.files.plain import (
    NOT_THERE,
    plain_bytes,
    real_path,
    stands_there,
)
from companion.log.line import LOG_NAME

LIST_NAME = "elsewhere.jsonl"
"""File name of the list inside the data folder."""


def list_other_place(folder: Path, machine: str | None = None) -> None:
    """Put a session folder on the list, unless it stands in the data folder or is on it already.

    Args:
        folder: The session folder.
        machine: Name of its machine, where it has one.

    Raises:
        CompanionError: If the list cannot be written.
    """
    data = data_folder()
    absolute = real_path(folder)
    if absolute.parent == real_path(data / "sessions") or absolute in _listed(data):
        return
    line = json.dumps({"path": str(absolute), "machine": machine})
    path = data / LIST_NAME
    try:
        append_line(path, line.encode())
    except OSError as error:
        raise CompanionError(
            f"{path} cannot be written ({error.strerror}): 'companion sessions' and the machine's "
            f"history will not know of {folder}; check the folder, or set {DATA_VARIABLE}."
        ) from None


def other_places(data: Path) -> list[Path]:
    """Return the listed session folders that are still there and stand outside the data folder; one
    that cannot be looked into is there.

    Args:
        data: The data folder.
    """
    inside = real_path(data / "sessions")
    found: dict[Path, Path] = {}
    for folder in _listed(data):
        if stands_there(folder / LOG_NAME) and (real := real_path(folder)).parent != inside:
            found.setdefault(real, folder)
    return list(found.values())


def gone(data: Path) -> dict[Path, str]:
    """Return the listed session folders that are not there any more, each with its machine; those
    of which no machine is listed are left out."""
    return {
        folder: machine
        for folder, machine in _listed(data).items()
        if machine is not None and not stands_there(folder / LOG_NAME)
    }


def forget(data: Path, name: str) -> Path | None:
    """Take a folder that is gone off the list.

    Args:
        data: The data folder.
        name: Its path, or its last part.

    Returns:
        The folder, or None where no such one is listed as gone.

    Raises:
        CompanionError: If several go by that name, or the list cannot be written.
    """
    listed = gone(data)
    its = [each for each in listed if name == str(each)]
    its = its or [each for each in listed if name == each.name]
    if not its:
        return None
    if len(its) > 1:
        raise CompanionError(
            f"'{name}' is the name of several sessions that are gone; name one of "
            f"{', '.join(str(each) for each in its)}."
        )
    found = its[0]
    kept = {folder: machine for folder, machine in _listed(data).items() if folder != found}
    lines = [
        json.dumps({"path": str(folder), "machine": machine}) + "\n"
        for folder, machine in kept.items()
    ]
    path = data / LIST_NAME
    try:
        replace_file(path, "".join(lines).encode())
    except OSError as error:
        raise CompanionError(
            f"{path} cannot be written ({error.strerror}); check the folder and its permissions."
        ) from None
    return found


def _listed(data: Path) -> dict[Path, str | None]:
    lines, _ = _lines(data)
    paths: dict[Path, str | None] = {}
    for line in lines:
        try:
            entry = json.loads(line)
        except (ValueError, RecursionError):
            continue
        path, machine = (entry, None) if isinstance(entry, str) else (None, None)
        if isinstance(entry, dict):
            path, machine = entry.get("path"), entry.get("machine")
        if isinstance(path, str) and "\0" not in path and Path(path).is_absolute():
            paths[Path(path)] = machine if isinstance(machine, str) else None
    return paths


def unread_list(data: Path) -> str | None:
    """Say why the list cannot be read; None where it can, or there is none.

    Args:
        data: The data folder.
    """
    _, why = _lines(data)
    if why is None:
        return None
    return (
        f"{data / LIST_NAME}, the list of sessions outside the data folder, cannot be read "
        f"({why}), so those are not shown; move the file away, and open each of them by its folder."
    )


def _lines(data: Path) -> tuple[list[bytes], str | None]:
    try:
        return plain_bytes(data / LIST_NAME, LARGEST_LIST).splitlines(), None
    except OSError as error:
        return [], None if error.errno in NOT_THERE else error.strerror
