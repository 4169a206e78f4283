"""Large structures that all live to the end of a search, built without looking for dead ones."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def without_collecting() -> Iterator[None]:
    """Keep the garbage collector from going through what is built meanwhile, again and again.

    Checking the grammar of a job makes some ten million objects and drops few; looking for those
    took half of the time.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
