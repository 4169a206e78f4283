"""When the sound of a stream was captured, by a clock outside it."""

from __future__ import annotations

from collections import deque

LOOKED_BACK = 300
"""Blocks over which the earliest arrival counts: nine seconds, short against the drift of two
quartzes and long against the bunches in which a sound server hands blocks over."""


class StreamClock:
    """Gives the time at which each block of a stream began.

    A block arrives after it was captured, sometimes much after; the stream itself is even. So the
    earliest arrival of late, counted from the samples before it, tells the time of all.

    Args:
        rate: Of the stream, in Hz.
    """

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._counted = 0
        self._offsets: deque[float] = deque(maxlen=LOOKED_BACK)

    def arrived(self, frames: int, at: float) -> float:
        """Take in a block and return when its first sample was captured, in seconds.

        Args:
            frames: Its length.
            at: When it arrived, in seconds.
        """
        begin = self._counted / self._rate
        self._counted += frames
        self._offsets.append(at - self._counted / self._rate)
        return begin + min(self._offsets)
