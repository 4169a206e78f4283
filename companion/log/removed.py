"""Clips that were removed because they were old, told from those that are missing.

Which ones is kept in a file of the session folder, a JSON object a line, written before anything is
removed.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from companion.files.plain import plain_bytes

REMOVED_NAME = "audio.removed"
"""File name of the list inside a session folder."""

MOST_BYTES = 64 * 2**20
"""Of the list; a long day makes a hundred thousand."""


@dataclass(frozen=True, slots=True)
class Removed:
    """What is kept of a clip that was removed.

    Attributes:
        day: On which it was.
        sha256: Of its file as it was then.
    """

    day: str
    sha256: str


def removed_clips(folder: Path) -> dict[str, Removed]:
    """Return the clips of a session that were removed by age."""
    try:
        lines = plain_bytes(folder / REMOVED_NAME, MOST_BYTES).splitlines()
    except OSError:
        return {}
    return dict(_entries(lines))


def _entries(lines: Iterable[bytes]) -> Iterable[tuple[str, Removed]]:
    for line in lines:
        try:
            entry = json.loads(line)
            day = datetime.fromisoformat(entry["at"]).date().isoformat()
            yield str(entry["clip"]), Removed(day, str(entry["sha256"]))
        except (ValueError, TypeError, KeyError, RecursionError):
            continue
