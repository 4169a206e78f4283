"""The tip: number and SHA-256 of the last line, in a file of its own beside the log.

The chain inside the log shows a change to every line but the last, and no cut at the end of a line;
the tip shows those too. It is written after the log is synced and is never synced itself, which
keeps it free: after a power cut it may be behind the log, and then says nothing, but never ahead of
it unless records were lost. Of a log without one nobody can tell whether its end is still there.
"""

from __future__ import annotations

import os
import re
import zlib
from dataclasses import dataclass
from pathlib import Path

from companion.files.disk import open_own, write_all
from companion.files.plain import plain_bytes

TIP_NAME = "log.tip"
"""File name of the tip inside a session folder."""

MOST_BYTES = 1024
"""Of the file; a tip takes 91."""

_PLAIN = re.compile(rb"(\d{12}) ([0-9a-f]{64})\n")
_SEALED = re.compile(rb"(tip (\d{12}) ([0-9a-f]{64})) ([0-9a-f]{8})\n")


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
        data = plain_bytes(folder / TIP_NAME, MOST_BYTES)
    except OSError:
        return None
    # As older versions wrote it.
    plain = _PLAIN.fullmatch(data)
    if plain is not None:
        return Tip(int(plain[1]), plain[2].decode())
    sealed = _SEALED.fullmatch(data)
    if sealed is None or zlib.crc32(sealed[1]) != int(sealed[4], 16):
        return None
    return Tip(int(sealed[2]), sealed[3].decode())


def tip_bytes(tip: Tip) -> bytes:
    """Return what the file of a tip holds.

    A write that is cut short, by a full disk or a power cut, leaves the beginning of one tip and
    the end of the other: a checksum shows that it is none, where it would accuse a whole log.
    """
    line = f"tip {tip.seq:012d} {tip.digest}"
    return f"{line} {zlib.crc32(line.encode()):08x}\n".encode()


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
        # A link leads to a file that is not this session's: the link goes, and that file stays as
        # it is.
        path.unlink()
        descriptor = open_own(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL)
    if os.fstat(descriptor).st_nlink > 1:
        # The file has another name as well, perhaps in a backup: that one stays as it is.
        os.close(descriptor)
        path.unlink()
        descriptor = open_own(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL)
    try:
        write_all(descriptor, tip_bytes(tip))
    finally:
        os.close(descriptor)
