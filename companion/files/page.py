"""A page written to disk: whole, or not at all."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

from companion.errors import CompanionError

WRITTEN = frozenset({".html", ".htm", ".txt", ".csv"})
"""Endings of what is written here; nothing of a session or of the data folder ends so."""
BEGINS = b"<!DOCTYPE html"
"""How a page begins, whatever it is called."""


def write_page(html: str, page: Path, what: str) -> Path:
    """Write a page; one that is there is replaced, never half written, and nothing else is: no log,
    clip, list or device.

    Args:
        html: The page.
        page: The file to write.
        what: What it is, in words, for the error.

    Raises:
        CompanionError: If something else is there, or it cannot be written.
    """
    if not _may_replace(page):
        raise CompanionError(
            f"{page} is there already and is no page; name another file for the {what}."
        )
    fresh = page.with_name(f".{page.name}.new")
    try:
        fresh.write_bytes(html.encode(errors="replace"))
        os.replace(fresh, page)
    except OSError as error:
        with contextlib.suppress(OSError):
            fresh.unlink()
        raise CompanionError(
            f"The {what} {page} cannot be written ({error.strerror}); name a file in a folder that "
            "is there and can be written to."
        ) from None
    return page


def _may_replace(page: Path) -> bool:
    try:
        if page.is_dir() or not page.exists():
            return True  # Whether it can be written is told by writing.
        if not page.is_file():
            return False
        if page.suffix.lower() in WRITTEN:
            return True
        with page.open("rb") as there:
            return there.read(len(BEGINS)) == BEGINS
    except OSError:
        return True
