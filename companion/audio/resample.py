"""Sound of any rate brought to the one rate everything else works at, a block at a time."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Protocol

import numpy as np
import soxr
from numpy.typing import NDArray

from companion.files.sound_format import SAMPLE_RATE

LOWEST_RATE = 8_000
"""Lowest rate worth listening to, in Hz: the telephone's; below it consonants are gone."""


class _Stream(Protocol):
    def resample_chunk(self, x: NDArray[np.float32], last: bool = False) -> NDArray[np.float32]: ...


class Resampler:
    """Turns blocks at one rate into blocks at another; nothing is lost or doubled between blocks.

    Args:
        source: Rate of the blocks given, in Hz.
        target: Rate of the blocks returned, in Hz.
    """

    def __init__(self, source: int, target: int = SAMPLE_RATE) -> None:
        self._stream: _Stream | None = (
            None if source == target else soxr.ResampleStream(source, target, 1, dtype="float32")
        )

    def feed(self, block: NDArray[np.float32]) -> NDArray[np.float32]:
        """Return what is ready after one more block; shapes (n,) and (m,)."""
        return block if self._stream is None else self._stream.resample_chunk(block)

    def finish(self) -> NDArray[np.float32]:
        """Return what was still held back."""
        nothing = np.zeros(0, dtype=np.float32)
        return nothing if self._stream is None else self._stream.resample_chunk(nothing, last=True)


def mono(block: NDArray[np.float32]) -> NDArray[np.float32]:
    """Mix channels down by their mean; a value that is no number becomes silence.

    Args:
        block: Shape (n,) or (n, channels).
    """
    # Keeps numpy from printing warnings about values that are no numbers.
    with np.errstate(invalid="ignore", over="ignore"):
        mixed = block if block.ndim == 1 else block.mean(axis=1)
    finite = np.nan_to_num(mixed, nan=0.0, posinf=1.0, neginf=-1.0)
    return np.clip(finite, -1.0, 1.0).astype(np.float32, copy=False)


def resample(
    samples: NDArray[np.float32], source: int, target: int = SAMPLE_RATE
) -> NDArray[np.float32]:
    """Bring a whole sound from one rate to another.

    Args:
        samples: Shape (n,).
        source: Its rate, in Hz.
        target: The rate to bring it to, in Hz.
    """
    return np.concatenate(list(resampled([samples], source, target)))


def resampled(
    blocks: Iterable[NDArray[np.float32]], source: int, target: int = SAMPLE_RATE
) -> Iterator[NDArray[np.float32]]:
    """Yield the blocks at another rate.

    Args:
        blocks: Shape (n,) each.
        source: Their rate, in Hz.
        target: The rate to bring them to, in Hz.
    """
    resampler = Resampler(source, target)
    for block in blocks:
        yield resampler.feed(block)
    yield resampler.finish()
