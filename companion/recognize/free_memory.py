"""Memory that is free again, given back to the system."""

from __future__ import annotations

import ctypes
import sys


def give_back() -> None:
    """Give back what loading left free: the C library of Linux keeps it for later otherwise, forty
    megabytes after a model (``docs/hearing.md``). Elsewhere nothing is done."""
    if sys.platform == "linux":
        trim = getattr(ctypes.CDLL(None), "malloc_trim", None)
        # Other C libraries than the usual one have no such function.
        if trim is not None:
            trim(0)
