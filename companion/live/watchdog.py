"""What is watched at the bench: whatever may fail, hang and come back while a session goes on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol, runtime_checkable

FIRST_WAIT = 1.0
"""Before something that failed a second time is started again, in seconds."""
LONGEST_WAIT = 120.0
"""Between two tries, in seconds: a try takes a core for a moment; our own figure."""
STEADY_SECONDS = 60.0
"""What works for so long, in seconds, has come back for good."""


@runtime_checkable
class Watched(Protocol):
    """Something beside the session that the loop looks after about once a second."""

    def news(self) -> Sequence[str]:
        """Start again what has ended, where it is time to, and return what became of it since the
        last time: each a plain sentence to say, with what still works. It never waits."""
        ...


class Again:
    """When to start something again: at once the first time, then after waits that double, so that
    what fails again and again takes no time from the bench.

    Times are seconds of any clock that does not jump.
    """

    def __init__(self) -> None:
        self._wait = 0.0
        self._began: float | None = None
        self._due = 0.0

    def began(self, at: float) -> None:
        """Note that it works."""
        self._began = at

    def failed(self, at: float, *, soonest: float = 0.0) -> None:
        """Note that it does not.

        Args:
            at: When.
            soonest: Before the next try, where a fresh start alone mends nothing, in seconds.
        """
        if self._began is not None and at - self._began >= STEADY_SECONDS:
            self._wait = 0.0
        self._began = None
        self._wait = max(soonest, self._wait)
        self._due = at + self._wait
        self._wait = min(max(FIRST_WAIT, 2 * self._wait), LONGEST_WAIT)

    def may_try(self, at: float) -> bool:
        """Whether it is to be tried now."""
        return at >= self._due
