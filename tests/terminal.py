"""A real terminal for tests: a program at a pseudo-terminal, and what it draws read as from glass.

The program runs in a process of its own, with the pseudo-terminal as its controlling one. What it
draws goes through a VT reader; questions that it asks of a terminal (where the cursor is) are
answered. Nothing waits for longer than until what is waited for is seen.
"""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import struct
import sys
import termios
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from types import TracebackType

import pyte

PATIENCE = 60.0
"""Longest wait for something to be seen, in seconds; a busy machine needs some of it."""
ROWS, COLUMNS = 24, 80


class _Glass(pyte.HistoryScreen):
    """Keeps what scrolled off, and answers."""

    def __init__(self, columns: int, rows: int, answer: Callable[[bytes], None]) -> None:
        super().__init__(columns, rows, history=1000, ratio=0.5)
        self._answer = answer

    def write_process_input(self, data: str) -> None:
        self._answer(data.encode())


class Terminal:
    """``companion`` at a terminal; use it in a ``with`` block.

    Args:
        arguments: Of the command line.
        environment: Of the process.
        folder: Where it runs.
        columns: Of the terminal.
        rows: Of the terminal.
    """

    def __init__(
        self,
        *arguments: str,
        environment: Mapping[str, str],
        folder: Path,
        columns: int = COLUMNS,
        rows: int = ROWS,
        program: tuple[str, ...] = (sys.executable, "-m", "companion"),
    ) -> None:
        self.glass = _Glass(columns, rows, self._send)
        self._stream = pyte.ByteStream(self.glass)
        self.drawn = b""
        """Everything that was drawn, as it came."""
        self.status: int | None = None
        self.pid, self._terminal = pty.fork()
        if self.pid == 0:
            os.chdir(folder)
            # As at any terminal, though the tests may run in the background, where it is ignored.
            signal.signal(signal.SIGINT, signal.SIG_DFL)
            self._set_size(0, columns, rows)
            os.execvpe(
                program[0], [*program, *arguments], {"TERM": "xterm-256color", **environment}
            )
        self._set_size(self._terminal, columns, rows)

    def __enter__(self) -> Terminal:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self.status is None:
            os.kill(self.pid, signal.SIGKILL)
            os.waitpid(self.pid, 0)
        os.close(self._terminal)

    # --- what is done at it ----------------------------------------------------------------------
    def type(self, keys: str) -> None:
        """Press these keys."""
        self._send(keys.encode())

    def resize(self, columns: int, rows: int) -> None:
        """Make it that large; the program is told as by any terminal."""
        self.glass.resize(rows, columns)
        self._set_size(self._terminal, columns, rows)

    # --- what is seen ----------------------------------------------------------------------------
    @property
    def lines(self) -> list[str]:
        """The rows of the glass, without the blanks at their end."""
        return [line.rstrip() for line in self.glass.display]

    @property
    def text(self) -> str:
        """All of the glass."""
        return "\n".join(self.lines)

    @property
    def echoes(self) -> bool:
        """Whether the terminal shows by itself what is typed, as it does at a shell."""
        return bool(termios.tcgetattr(self._terminal)[3] & termios.ECHO)

    @property
    def scrolled(self) -> str:
        """What has scrolled off the top, and then the glass."""
        off = [
            "".join(line[column].data for column in range(self.glass.columns)).rstrip()
            for line in self.glass.history.top
        ]
        return "\n".join([*off, self.text])

    def wait(self, seen: str | Callable[[], object]) -> str:
        """Go on reading until this is seen, and return the glass.

        Args:
            seen: A text that stands on one row, or a condition.
        """
        look = seen if callable(seen) else lambda: seen in self.text
        until = time.monotonic() + PATIENCE
        while not look():
            left = until - time.monotonic()
            # Not everything that is waited for is drawn.
            if left <= 0 or self._read(min(left, 0.2)) is None:
                if look():
                    break
                raise AssertionError(f"not seen: {seen}\n{self.text}")
        return self.text

    def end(self) -> int:
        """Read until the program has ended; its exit status."""
        until = time.monotonic() + PATIENCE
        while self._read(0.2) is not None:
            if time.monotonic() > until:
                raise AssertionError(f"it has not ended\n{self.text}")
        _, status = os.waitpid(self.pid, 0)
        self.status = os.waitstatus_to_exitcode(status)
        return self.status

    def _read(self, seconds: float) -> bool | None:
        """Take in what is drawn next; False where nothing was drawn so long, None at the end."""
        ready, _, _ = select.select([self._terminal], [], [], seconds)
        if not ready:
            return False
        try:
            data = os.read(self._terminal, 65536)
        except OSError:
            return None  # how Linux says that the other end is closed
        self.drawn += data
        self._stream.feed(data)
        return True if data else None

    def _send(self, data: bytes) -> None:
        os.write(self._terminal, data)

    @staticmethod
    def _set_size(descriptor: int, columns: int, rows: int) -> None:
        fcntl.ioctl(descriptor, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
