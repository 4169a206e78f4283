"""Standard input, output and error that are there, whatever the program was started with.

Python has None for a stream that was closed (``>&-``), and the system gives its number to the next
file that is opened, which may be a log.
"""

from __future__ import annotations

import os
import sys
from typing import Literal, TextIO


def open_standard_streams() -> None:
    """Put something in place of standard streams that are closed: an input that is empty, outputs
    that refuse every byte, so that what cannot be printed is noticed."""
    for descriptor in range(3):
        try:
            os.fstat(descriptor)
        except OSError:
            # All three are opened for reading: writing there fails, as it would have on the closed
            # stream.
            if os.open(os.devnull, os.O_RDONLY) != descriptor:
                return
    if sys.stdin is None:
        sys.stdin = _text(0, "r")
    if sys.stdout is None:
        sys.stdout = _text(1, "w")
    if sys.stderr is None:
        sys.stderr = _text(2, "w")


def _text(descriptor: int, mode: Literal["r", "w"]) -> TextIO:
    # A stream for writing over a file that refuses writing: this is noticed only when something is
    # written.
    return open(descriptor, mode, encoding="utf-8", errors="replace", closefd=False)
