"""The one call that a sound file may hold, found without keeping more of the file than a call."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from companion.audio.endpointing import Segmenter
from companion.audio.files import SoundStream
from companion.audio.levels import measure_level, troubles
from companion.audio.utterance import Trouble
from companion.files.sound_format import SAMPLE_RATE

WHOLE_CLIP = 8.0
"""A clip no longer than this, in seconds, is heard whole; of a longer one, what lies between its
first and last speech."""
LONGEST_CALL = 30.0
"""From its first to its last speech, in seconds: more is no call, and the recognizer's window ends
there."""
NOTHING_PEAK = -80.0
"""Of the loudest sample, in dB of full scale: below it nothing is spoken."""
_BEFORE = 2.0
"""Longer than what an utterance may reach back before the segmenter notices it, in seconds."""


@dataclass(frozen=True, slots=True)
class OneCall:
    """What was found.

    Attributes:
        samples: Shape (n,), mono, -1 to 1, at ``SAMPLE_RATE``; None where nothing is spoken.
        troubles: What is wrong with the sound.
        too_long: Speech goes on for longer than any call; ``samples`` is then None.
    """

    samples: NDArray[np.float32] | None
    troubles: tuple[Trouble, ...] = ()
    too_long: bool = False


def read_one_call(path: Path | str) -> OneCall:
    """Find the one call in a sound file of any length.

    Raises:
        SoundUnreadable: As ``SoundStream`` does.
    """
    stream = SoundStream(path)
    found = find_one_call(stream)
    return OneCall(
        found.samples,
        (*found.troubles, "truncated") if stream.truncated else found.troubles,
        found.too_long,
    )


def find_one_call(blocks: Iterable[NDArray[np.float32]]) -> OneCall:
    """Find the one call in a stretch of sound; reading ends where there is too much speech.

    Args:
        blocks: Shape (n,) each, mono, -1 to 1, at ``SAMPLE_RATE``.
    """
    source = iter(blocks)
    head: list[NDArray[np.float32]] = []
    for block in source:
        head.append(block)
        if sum(map(len, head)) > WHOLE_CLIP * SAMPLE_RATE:
            return _between_pauses(block for part in (head, source) for block in part)
    whole = np.concatenate(head) if head else np.zeros(0, dtype=np.float32)
    spoken = measure_level(whole).peak >= NOTHING_PEAK
    return OneCall(whole if spoken else None, troubles(whole))


def _between_pauses(blocks: Iterable[NDArray[np.float32]]) -> OneCall:
    segmenter = Segmenter()
    kept = _Kept()
    first: float | None = None
    last = 0.0

    def too_long(ended: Iterable[tuple[float, float]]) -> bool:
        nonlocal first, last
        for start, end in ended:
            first = start if first is None else first
            last = end
        return first is not None and last - first > LONGEST_CALL

    for block in blocks:
        kept.add(block)
        if too_long((each.start, each.start + each.seconds) for each in segmenter.feed(block)):
            return OneCall(None, ("too-long",), too_long=True)
        if first is None:
            kept.drop_before(segmenter.seconds - segmenter.longest - _BEFORE)
        elif segmenter.seconds - first > LONGEST_CALL + segmenter.longest:
            # Any speech from here on makes the recording too long for one call.
            kept.full = True
    if too_long((each.start, each.start + each.seconds) for each in segmenter.flush()):
        return OneCall(None, ("too-long",), too_long=True)
    if first is None:
        return OneCall(None)
    samples = kept.between(first, last)
    return OneCall(samples, troubles(samples))


class _Kept:
    """The last stretch of a stream, from a place that moves with it."""

    def __init__(self) -> None:
        self._blocks: deque[NDArray[np.float32]] = deque()
        self._begins = 0
        self.full = False

    def add(self, block: NDArray[np.float32]) -> None:
        if not self.full:
            self._blocks.append(block)

    def drop_before(self, seconds: float) -> None:
        while self._blocks and self._begins + len(self._blocks[0]) < seconds * SAMPLE_RATE:
            self._begins += len(self._blocks.popleft())

    def between(self, start: float, end: float) -> NDArray[np.float32]:
        whole = np.concatenate(self._blocks)
        first, last = (round(at * SAMPLE_RATE) - self._begins for at in (start, end))
        return whole[max(0, first) : last]
