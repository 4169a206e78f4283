"""The board on the wall beside a live session: a program of its own, so that nothing it does, and
no browser that looks at it, can make the bench wait."""

from __future__ import annotations

import contextlib
import queue
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from companion.live.watchdog import Again

STOPPING_SECONDS = 5.0
"""How long the board may take to end."""
ADDRESS_SECONDS = 10.0
"""Seconds that the session waits for the board's address; one that comes later is printed when it
comes."""
GONE = "The board on the wall has ended and is started again. The job goes on."
BACK = "The board on the wall is shown again."


class BoardBeside:
    """The program that shows the board; it is ``Watched``.

    Args:
        command: What starts it.
        clock: Seconds of a clock that does not jump.
    """

    def __init__(
        self, command: Sequence[str], *, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._command = tuple(command)
        self._clock = clock
        self._again = Again()
        self._board: subprocess.Popen[bytes] | None = None
        self._lines: queue.SimpleQueue[tuple[bool, str]] = queue.SimpleQueue()
        self._shown = False
        self._told = False
        self._start()
        with contextlib.suppress(queue.Empty):
            self._print(self._lines.get(timeout=ADDRESS_SECONDS))

    def news(self) -> Sequence[str]:
        """See ``Watched``."""
        found: list[str] = []
        while not self._lines.empty():
            if self._print(self._lines.get_nowait()) and self._told:
                self._told = False
                found.append(BACK)
        if self._board is not None and self._board.poll() is not None:
            self._board = None
            self._again.failed(self._clock())
            # A board that never showed anything has said why, and is not tried again for ever.
            if self._shown and not self._told:
                self._told = True
                found.append(GONE)
        if self._board is None and self._shown and self._again.may_try(self._clock()):
            self._start()
        return found

    def close(self) -> None:
        """End the board."""
        if self._board is None:
            return
        assert self._board.stdin is not None
        with contextlib.suppress(OSError):
            self._board.stdin.close()
        try:
            self._board.wait(STOPPING_SECONDS)
        except subprocess.TimeoutExpired:
            self._board.kill()
            with contextlib.suppress(subprocess.TimeoutExpired):
                self._board.wait(STOPPING_SECONDS)

    @property
    def pid(self) -> int | None:
        """The number of its program in the system, while there is one."""
        return None if self._board is None else self._board.pid

    def _start(self) -> None:
        try:
            self._board = subprocess.Popen(
                self._command,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                # Ctrl-C is for the session; it ends the board when it has ended itself.
                start_new_session=True,
            )
            for pipe, shown in ((self._board.stdout, True), (self._board.stderr, False)):
                threading.Thread(
                    target=self._read, args=(pipe, shown), name="board", daemon=True
                ).start()
        except (OSError, MemoryError, RuntimeError) as error:
            why = getattr(error, "strerror", None) or type(error).__name__
            self._lines.put((False, f"companion: The board cannot be started ({why}).\n"))
            self._again.failed(self._clock())
            return
        self._again.began(self._clock())

    def _read(self, pipe: IO[bytes], shown: bool) -> None:
        # Read to the end: a pipe that nobody empties would make the board wait.
        with contextlib.suppress(OSError, ValueError), pipe:
            for place, line in enumerate(pipe):
                if place == 0:
                    self._lines.put((shown, line.decode(errors="replace")))

    def _print(self, line: tuple[bool, str]) -> bool:
        """Print the first thing that the board says: its address, or why it has none."""
        shown, text = line
        if shown:
            self._shown = True
            print(text.replace(" (stop with Ctrl-C)", ""), end="", flush=True)
        elif not self._told:
            print(text, end="", file=sys.stderr)
        return shown


@contextmanager
def board_beside(folder: Path) -> Iterator[tuple[BoardBeside, ...]]:
    """Show the board of a session meanwhile, where the settings say, and print its address.

    A board that cannot be shown is reported, and the job goes on without it; one that ends later is
    started again. The board ends with this program, however that ends, because it waits for the end
    of a pipe.

    Args:
        folder: The session folder.
    """
    arguments = (sys.executable, "-m", "companion", "board", str(folder.resolve()))
    board = BoardBeside((*arguments, "--no-browser", "--until-input-ends"))
    try:
        yield (board,)
    finally:
        board.close()
