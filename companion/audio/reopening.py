"""When to try a device again that went away."""

from __future__ import annotations

FIRST_WAIT = 1.0
"""Before the first try, in seconds."""
LONGEST_WAIT = 30.0
"""Between two tries, in seconds."""
STEADY_SECONDS = 60.0
"""A device that stays this long, in seconds, is back for good. One with a loose plug is not: the
waits go on growing, and with them the time between two times of telling."""


class Reopening:
    """The waits before each try to open a device again, each twice the one before.

    Times are seconds of any clock that does not jump.
    """

    def __init__(self) -> None:
        self._wait = FIRST_WAIT
        self._back: float | None = None

    def lost(self, at: float) -> None:
        """Note that the device went away."""
        if self._back is not None and at - self._back >= STEADY_SECONDS:
            self._wait = FIRST_WAIT

    def next_wait(self) -> float:
        """Return how long to wait before the next try, in seconds."""
        wait = self._wait
        self._wait = min(2 * wait, LONGEST_WAIT)
        return wait

    def back(self, at: float) -> None:
        """Note that it gives sound again."""
        self._back = at
