"""How far long work is, for a person who waits for it: on standard error, on a terminal only."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import TextIO

from companion.plain_print import drawn_on

TOLD_AGAIN = 0.1
"""Seconds from one figure to the next."""

CLEARED = "\r\x1b[K"
"""Moves to the start of the line and erases all of it."""


@contextmanager
def progress(what: str) -> Iterator[Callable[[int, int], None]]:
    """Show how far it is while it goes on, in a line that is gone at the end.

    Args:
        what: What is done, in few words: "logs read into the index".

    Yields:
        To be called with how many are done and how many there are; of no effect where standard
        error is no terminal.
    """
    if sys.stderr is None or not sys.stderr.isatty():
        yield lambda done, of: None
        return
    terminal = drawn_on(sys.stderr)
    told = -TOLD_AGAIN

    def tell(done: int, of: int) -> None:
        nonlocal told
        if done >= of:
            # What is printed next must not stand behind the figure.
            _drawn(CLEARED, terminal)
        elif time.monotonic() - told >= TOLD_AGAIN:
            told = time.monotonic()
            _drawn(f"{CLEARED}{what}: {done} of {of}", terminal)

    try:
        yield tell
    finally:
        _drawn(CLEARED, terminal)


@contextmanager
def waiting(what: str) -> Iterator[None]:
    """Show what is waited for where nobody can tell how long, in a line that is gone at the end.

    Args:
        what: What is done: "loading the recognizer".
    """
    if sys.stderr is None or not sys.stderr.isatty():
        yield
        return
    terminal = drawn_on(sys.stderr)
    _drawn(f"{what} …", terminal)
    try:
        yield
    finally:
        _drawn(CLEARED, terminal)


def _drawn(text: str, terminal: TextIO) -> None:
    # Where the terminal has gone away, the work goes on all the same.
    with suppress(OSError, ValueError):
        terminal.write(text)
        terminal.flush()
