"""Clips that were removed because they were old, told from those that are missing.

Which ones is kept in a file of the session folder, a JSON object a line, written before anything is
removed.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path

from companion.files.plain import plain_bytes

REMOVED_NAME = "audio.removed"
"""File name of the list inside a session folder."""

MOST_BYTES = 64 * 2**20
"""Of the list; a long day makes a hundred thousand."""


def removed_clips(folder: Path) -> dict[str, str]:
    """Return the clips of a session that were removed by age, each with the day on which."""
    try:
        lines = plain_bytes(folder / REMOVED_NAME, MOST_BYTES).splitlines()
    except OSError:
        return {}
    return dict(_entries(lines))


def _entries(lines: Iterable[bytes]) -> Iterable[tuple[str, str]]:
    for line in lines:
        try:
            entry = json.loads(line)
            yield str(entry["clip"]), datetime.fromisoformat(entry["at"]).date().isoformat()
        except (ValueError, TypeError, KeyError, RecursionError):
            continue
