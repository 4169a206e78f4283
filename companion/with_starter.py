"""A program that another one started, and that never outlives it."""

from __future__ import annotations

import ctypes
import signal
import sys

_PARENT_DEATH_SIGNAL = 1
"""PR_SET_PDEATHSIG of Linux's ``prctl.h``."""


def end_with_starter() -> None:
    """Have the system end this program with the one that started it, however that ends, and though
    this one is stopped or a library hangs in it.

    Only Linux can; elsewhere whoever calls this ends when its input does. Linux watches the thread
    that started this program, so that this thread must live as long as its program.
    """
    if sys.platform == "linux":
        try:
            ctypes.CDLL(None).prctl(_PARENT_DEATH_SIGNAL, signal.SIGKILL)
        except (OSError, AttributeError):
            return
