"""The lines of a log in memory, so that nothing is lost with its file.

Packed, and without the hash that joins each to the one before, which is computed again: a hundred
thousand records take a few megabytes.
"""

from __future__ import annotations

import re
import zlib

from companion.log.line import FIRST_PREV, digest

_PREV = re.compile(rb',"prev":"[0-9a-f]{64}"\}\n')
"""How every line ends that this program writes."""

_CUT = b"\0\n"
"""Stands in place of the hash: no JSON holds a zero byte."""

_FAST = 1
"""The level of zlib: higher ones take far longer for little gain."""


class KeptLines:
    """Whole lines that were found to be joined, in order."""

    def __init__(self) -> None:
        self._packer = zlib.compressobj(_FAST)
        self._packed = bytearray()

    def add(self, lines: bytes) -> None:
        """Take in more.

        Args:
            lines: Each with its line feed.
        """
        self._packed += self._packer.compress(_PREV.sub(_CUT, lines))

    def lines(self) -> bytes:
        """Return all of them, byte for byte."""
        # A copy, since the packer itself goes on.
        ended = self._packer.copy()
        whole = zlib.decompress(bytes(self._packed) + ended.flush())
        made = []
        prev = FIRST_PREV
        for raw in whole.split(b"\n")[:-1]:
            line = raw
            if raw.endswith(b"\0"):
                line = raw[:-1] + b',"prev":"%s"}' % prev.encode("ascii")
            made.append(line + b"\n")
            prev = digest(line)
        return b"".join(made)
