"""Files of others read whole: a plain file, not too large, in UTF-8, JSON not too deep.

Whatever is wrong becomes one sentence that names the file and the remedy.
"""

from __future__ import annotations

import errno
import json
import os
from pathlib import Path
from typing import Any

from companion.errors import CompanionError
from companion.files.figures import BEYOND
from companion.files.limits import DEEPEST, LARGEST_TEXT
from companion.files.plain import open_plain


def bytes_of(path: Path, what: str, most: int = LARGEST_TEXT, *, named: bool = False) -> bytes:
    """Return what a file holds.

    Args:
        path: The file.
        what: What it is, in words, for the error: "job card".
        most: Bytes that it may hold.
        named: Whether a person named it, so that its name may be a link. What was found in a
            folder may not.

    Raises:
        CompanionError: If it is not there, cannot be read, is no plain file, or holds more.
    """
    try:
        with open_plain(path, through_link=named) as file:
            data = file.read(most + 1)
    except (OSError, ValueError) as error:
        way_out = "name another file" if named else "mend that, or put the file away"
        raise CompanionError(
            f"{path}: this {what} cannot be read: {_why(error)}; {way_out}."
        ) from None
    if len(data) > most:
        way_out = "name another file" if named else "put the file away"
        raise CompanionError(
            f"{path}: this {what} is larger than {_size(most)}, which none is; {way_out}."
        )
    return data


def text_of(path: Path, what: str, most: int = LARGEST_TEXT, *, named: bool = False) -> str:
    """Return the text of a file in UTF-8, its line ends as line feeds.

    Args:
        path: As ``bytes_of`` has it, like the others.
        what: As there.
        most: As there.
        named: As there.

    Raises:
        CompanionError: Also if it is no UTF-8, with the line.
    """
    data = bytes_of(path, what, most, named=named)
    try:
        return data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise CompanionError(f"{path}:{line}: not UTF-8 text; save the file as UTF-8.") from None


def json_of(path: Path, what: str, most: int = LARGEST_TEXT, *, named: bool = False) -> Any:
    """Return the JSON that a file holds.

    Args:
        path: As ``bytes_of`` has it, like the others.
        what: As there.
        most: As there.
        named: As there.

    Raises:
        CompanionError: Also if it is no JSON, or deeper than ``DEEPEST``.
    """
    try:
        return json_in(text_of(path, what, most, named=named))
    except ValueError as error:
        raise CompanionError(
            f"{path}: this {what} is no JSON that can be read: {error}; mend it, or put it away."
        ) from None


def json_in(text: str) -> Any:
    """Return the JSON in a text.

    Raises:
        ValueError: If it is none, or deeper than ``DEEPEST``; the message says which.
    """
    if too_deep(text):
        raise ValueError(f"more than {DEEPEST} brackets stand one in another")
    try:
        return json.loads(text)
    except json.JSONDecodeError:
        raise
    except ValueError:
        # Python reads no whole number of more than some thousand digits.
        raise ValueError(f"it holds {BEYOND}") from None


def too_deep(text: str) -> bool:
    """Whether the brackets of a JSON text are nested more than ``DEEPEST`` deep."""
    depth, within, escaped = 0, False, False
    for letter in text:
        if within:
            within = escaped or letter != '"'
            escaped = letter == "\\" and not escaped
        elif letter == '"':
            within = True
        elif letter in "[{":
            depth += 1
            if depth > DEEPEST:
                return True
        elif letter in "]}":
            depth -= 1
    return False


def _why(error: OSError | ValueError) -> str:
    if isinstance(error, OSError) and error.errno == errno.ELOOP:
        return "it is a link"
    if isinstance(error, OSError) and error.strerror:
        return error.strerror[:1].lower() + error.strerror[1:]
    return "its name is none" if isinstance(error, ValueError) else os.strerror(errno.EIO).lower()


def _size(most: int) -> str:
    return f"{most // 2**20} MiB" if most >= 2**20 else f"{most // 2**10} KiB"
