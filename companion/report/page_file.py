"""A page written to disk: whole, or not at all."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

from companion.errors import CompanionError


def write_page(html: str, page: Path, what: str) -> Path:
    """Write a page; one that is there is replaced, never half written.

    Args:
        html: The page.
        page: The file to write.
        what: What it is, in words, for the error.

    Raises:
        CompanionError: If it cannot be written.
    """
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
