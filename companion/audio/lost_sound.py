"""Sound that was lost because it came faster than it was taken: told, and not at every block."""

from __future__ import annotations

from collections.abc import Sequence

AGAIN_SECONDS = 300.0
"""Seconds before a loss that goes on is reported again: the technician cannot mend it at once, and
every sentence spoken is time not listened. Our own figure."""

LOST = (
    "Some sound was lost: this computer is too busy to take it. Say again what was not answered, "
    "and end what else runs on it."
)


class LostSound:
    """Decides when a loss is told."""

    def __init__(self) -> None:
        self._told = 0
        self._told_at: float | None = None

    def news(self, lost: int, at: float) -> Sequence[str]:
        """Return what is to be told now: the first loss at once, what came after it together.

        Args:
            lost: How often sound was lost until now.
            at: Seconds of a clock that does not jump.
        """
        more = lost - self._told
        if more <= 0 or (self._told_at is not None and at - self._told_at < AGAIN_SECONDS):
            return ()
        first = self._told_at is None
        self._told, self._told_at = lost, at
        if first:
            return (LOST,)
        times = "once" if more == 1 else f"{more} times"
        return (f"Sound was lost {times} more since that was told. {LOST}",)
