"""Calls into the sound library that may never come back: a sound server that hangs holds them.

Each call runs in a thread of its own and is waited for only so long. A call that is given up keeps
its thread, and may still return when the server recovers.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Generic, TypeVar

Result = TypeVar("Result")

ANSWER_SECONDS = 10.0
"""Longest wait for a device to be opened or asked, in seconds; usual ones are in
``docs/measurements.md``."""
CLOSE_SECONDS = 3.0
"""Longest wait for a device to be closed: nothing depends on it but the end of the program."""


class NoAnswer(Exception):
    """The sound library did not come back in time."""


_given_up: set[threading.Thread] = set()


class _Call(Generic[Result]):
    def __init__(self, work: Callable[[], Result], late: Callable[[Result], None] | None) -> None:
        self._work = work
        self._late = late
        self._lock = threading.Lock()
        self._abandoned = False
        self.error: BaseException | None = None
        self.result: list[Result] = []

    def run(self) -> None:
        try:
            result = self._work()
        except BaseException as error:
            self.error = error
            return
        with self._lock:
            self.result.append(result)
            late = self._late if self._abandoned else None
        if late is not None:
            late(result)

    def abandon(self) -> bool:
        """Stop waiting for the call, unless it has just returned."""
        with self._lock:
            self._abandoned = not self.result and self.error is None
            return self._abandoned


def answer(
    work: Callable[[], Result],
    seconds: float | None = None,
    *,
    late: Callable[[Result], None] | None = None,
) -> Result:
    """Return what a call into the sound library returns, or raise what it raises.

    Args:
        work: The call.
        seconds: How long to wait for it; ``ANSWER_SECONDS`` if left out.
        late: Takes what it returns after it was given up, so that no device stays open.

    Raises:
        NoAnswer: If it has not come back by then.
    """
    call = _Call(work, late)
    thread = threading.Thread(target=call.run, name="sound system", daemon=True)
    thread.start()
    thread.join(ANSWER_SECONDS if seconds is None else seconds)
    if thread.is_alive() and call.abandon():
        give_up(thread)
        raise NoAnswer
    if call.error is not None:
        raise call.error
    return call.result[0]


def give_up(thread: threading.Thread) -> None:
    """Note that a thread which has called the sound library is not waited for any more."""
    _given_up.add(thread)


def hangs() -> bool:
    """Whether a call that was given up has still not come back: the library must then not be
    ended."""
    for thread in list(_given_up):
        if not thread.is_alive():
            _given_up.discard(thread)
    return bool(_given_up)
