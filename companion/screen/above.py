"""Where lines are printed while the screen is drawn: above it, whole, and in their order."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import TextIO


class Above(io.TextIOBase):
    """Stands in place of standard output or error: whole lines go above the screen.

    Args:
        stream: The one it stands for.
        put: Puts lines above the screen and returns once they stand there; False where there is no
            screen to put them above.
    """

    def __init__(self, stream: TextIO, put: Callable[[str], bool]) -> None:
        self._stream = stream
        self._put = put
        self._begun = ""

    def write(self, text: str, /) -> int:
        """Print whole lines; what has no line end yet waits for it."""
        whole, newline, self._begun = (self._begun + text).rpartition("\n")
        if newline:
            self._print(whole + newline)
        return len(text)

    def close_line(self) -> None:
        """Print what waits for the end of its line."""
        begun, self._begun = self._begun, ""
        if begun:
            self._print(f"{begun}\n")

    def isatty(self) -> bool:
        """As the stream it stands for."""
        return self._stream.isatty()

    def fileno(self) -> int:
        """As the stream it stands for."""
        return self._stream.fileno()

    @property
    def encoding(self) -> str:  # type: ignore[override]
        """As the stream it stands for."""
        return self._stream.encoding

    def writable(self) -> bool:
        """Always."""
        return True

    def _print(self, lines: str) -> None:
        if not self._put(lines):
            self._stream.write(lines)
            self._stream.flush()
