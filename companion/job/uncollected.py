"""Work that makes very many objects and no cycles among them, done with the collector of cycles
off."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def uncollected() -> Iterator[None]:
    """Keep the collector of cycles from looking through all that is made until the block ends.

    A log of a long day is a million objects that all stay: searching them again and again would
    take time and find nothing (``docs/measurements.md``).
    """
    if not gc.isenabled():
        yield
        return
    gc.disable()
    try:
        yield
    finally:
        gc.enable()
