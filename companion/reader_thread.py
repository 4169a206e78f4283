"""Lines read in a thread of their own, which does not end unnoticed."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import TextIO

MOST_IN_A_ROW = 5
"""So many failures to read, with no line in between, and there is nothing more to read."""


def start_reading(
    source: TextIO,
    take: Callable[[str], None],
    *,
    name: str,
    tell: Callable[[str], None],
    ended: Callable[[], None],
) -> threading.Thread:
    """Read lines until they end; a line that cannot be read is told of, and the next one read.

    Args:
        source: Where they come from.
        take: Called with each, from the thread.
        name: Of the thread.
        tell: Called with a sentence where a line cannot be read.
        ended: Called when there are no more.
    """

    def read() -> None:
        failures = 0
        try:
            while failures < MOST_IN_A_ROW:
                try:
                    line = source.readline()
                    if not line:
                        return
                    take(line)
                    failures = 0
                # Whatever it is: a thread that ends without a word leaves a session deaf.
                except Exception as error:
                    failures += 1
                    if failures == 1:
                        kind = type(error).__name__
                        tell(f"A typed line could not be read ({kind}); type it again.")
        finally:
            ended()

    thread = threading.Thread(target=read, name=name, daemon=True)
    thread.start()
    return thread
