"""The tip: number and SHA-256 of the last line, in a file of its own beside the log.

The chain inside the log shows a change to every line but the last, and no cut at the end of a line;
the tip shows those too. It is written after the log is synced and is never synced itself, which
keeps it free: after a power cut it may be behind the log, and then says nothing, but never ahead of
it unless records were lost. Of a log without one nobody can tell whether its end is still there.
"""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path

from companion.files.disk import open_own, write_all
from companion.files.plain import plain_bytes

TIP_NAME = "log.tip"
"""File name of the tip inside a session folder."""

MOST_BYTES = 1024
"""Of the file; a tip takes 78."""


@dataclass(frozen=True, slots=True)
class Tip:
    """The last line that was written.

    Attributes:
        seq: Its number; 0 before the first.
        digest: Its SHA-256 in hex.
    """

    seq: int
    digest: str


def read_tip(folder: Path) -> Tip | None:
    """Return the tip, or None where there is none that can be read."""
    try:
        text = plain_bytes(folder / TIP_NAME, MOST_BYTES).decode("ascii")
    except (OSError, ValueError):
        return None
    match = re.fullmatch(r"(\d{12}) ([0-9a-f]{64})\n", text)
    return Tip(int(match[1]), match[2]) if match else None


def tip_bytes(tip: Tip) -> bytes:
    """Return what the file of a tip holds."""
    return f"{tip.seq:012d} {tip.digest}\n".encode()


def write_tip(folder: Path, tip: Tip) -> None:
    """Put the tip in place of the one before, in one write of fixed length.

    Raises:
        OSError: If it cannot be written.
    """
    path = folder / TIP_NAME
    try:
        descriptor = open_own(path, os.O_WRONLY | os.O_CREAT)
    except OSError:
        if not path.is_symlink():
            raise
        # What it leads to is none of this session's: the link goes, and that stays as it is.
        path.unlink()
        descriptor = open_own(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL)
    if os.fstat(descriptor).st_nlink > 1:
        # It is another file as well, of a backup perhaps: that one stays as it is.
        os.close(descriptor)
        path.unlink()
        descriptor = open_own(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL)
    try:
        write_all(descriptor, tip_bytes(tip))
    finally:
        os.close(descriptor)
