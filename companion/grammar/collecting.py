"""Large structures that all live to the end of a search, built without looking for dead ones."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def without_collecting() -> Iterator[None]:
    """Keep the garbage collector off while a large structure is built.

    Checking the grammar of a job makes millions of objects and drops few: searching them again and
    again would only take time (``docs/measurements.md``).
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
