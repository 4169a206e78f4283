"""Work that may never return, done in a thread that is left behind where it does not."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

MOST_LEFT_BEHIND = 3
"""The most threads that are left behind: each holds what it works with until the program ends."""


class TooLate(Exception):
    """It did not return in time, or too many have not."""


class Bounded:
    """Does one thing after another, each in bounded time."""

    def __init__(self) -> None:
        self._left_behind = 0

    @property
    def used_up(self) -> bool:
        """Whether so many threads hang that nothing more is tried."""
        return self._left_behind >= MOST_LEFT_BEHIND

    def do(self, work: Callable[[], Any], seconds: float) -> Any:
        """Do a thing and return what it returns; raises what it raises.

        Args:
            work: The thing.
            seconds: How long it may take.

        Raises:
            TooLate: If it takes longer; it is left behind.
        """
        if self.used_up:
            raise TooLate
        came: list[Any] = []
        failed: list[Exception] = []

        def run() -> None:
            try:
                came.append(work())
            except Exception as error:
                failed.append(error)

        thread = threading.Thread(target=run, name="second recognizer", daemon=True)
        thread.start()
        thread.join(seconds)
        if failed:
            raise failed[0]
        if not came:
            self._left_behind += 1
            raise TooLate
        return came[0]
