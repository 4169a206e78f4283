"""Blocks of sound from a microphone, with ears that close while the companion itself speaks."""

from __future__ import annotations

import contextlib
import queue
from collections.abc import Iterator
from types import ModuleType, TracebackType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from companion.audio.devices import (
    Device,
    MicrophoneUnavailable,
    find_device,
    load_sounddevice,
    supports_rate,
    trouble,
)
from companion.audio.resample import Resampler, mono
from companion.audio.utterance import SAMPLE_RATE

BLOCK_SECONDS = 0.03
"""Length of a block, in seconds: short, since it adds to every answer's delay."""
AFTER_SPEAKING = 0.2
"""Sound dropped after the companion spoke, in seconds: the room's echo, the output's delay."""
QUEUE_SECONDS = 60.0
"""Sound kept while nobody fetches it, in seconds; beyond it the oldest is dropped and counted."""
LOST_SECONDS = 2.0
"""How long to wait for a block before looking whether the device is still there, in seconds."""


class Microphone:
    """A running input stream; use it in a ``with`` statement.

    Args:
        device: Which device; the system's usual one if None.

    Attributes:
        name: As the system names the device; known once it is open.
        overflows: How often sound was lost because it came faster than it was taken.

    Raises:
        MicrophoneUnavailable: On entering, if there is no microphone, or PortAudio is missing.
    """

    def __init__(self, device: Device = None) -> None:
        self._device = device
        self._blocks: queue.Queue[NDArray[np.float32] | None] = queue.Queue(
            maxsize=int(QUEUE_SECONDS / BLOCK_SECONDS)
        )
        self._stream: Any = None
        self._rate = SAMPLE_RATE
        self._resampler = Resampler(SAMPLE_RATE)
        self._paused = False
        self._drop = 0
        self._closing = False
        self.name = ""
        self.overflows = 0

    def __enter__(self) -> Microphone:
        sounddevice = load_sounddevice("input")
        info = find_device("input", self._device)
        self.name = info.name
        self._rate = SAMPLE_RATE if supports_rate("input", self._device, SAMPLE_RATE) else info.rate
        self._resampler = Resampler(self._rate)
        self._stream = self._start(sounddevice)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        where: TracebackType | None,
    ) -> None:
        self._closing = True
        self._put(None)  # Wakes whoever waits for a block.
        if self._stream is not None:
            # abort, not stop: what is still in the device's buffers is of no use any more.
            self._stream.abort(ignore_errors=True)
            self._stream.close(ignore_errors=True)

    def read(self, timeout: float) -> NDArray[np.float32] | None:
        """Return the next block, shape (n,), mono, at ``SAMPLE_RATE``; None if none came in time.

        Args:
            timeout: How long to wait, in seconds.

        Raises:
            MicrophoneUnavailable: If the microphone has gone away; what came before is given first.
        """
        try:
            block = self._blocks.get(timeout=timeout)
        except queue.Empty:
            if not self._closing and self._stream is not None and not self._stream.active:
                raise self._gone() from None
            return None
        if block is None:
            # Left in place, so that every later call says the same.
            self._put(None)
            if self._closing:
                return None
            raise self._gone()
        return self._resampler.feed(mono(block))

    def blocks(self) -> Iterator[NDArray[np.float32]]:
        """Yield blocks as they come, until the microphone is closed.

        Raises:
            MicrophoneUnavailable: If it goes away.
        """
        while not self._closing:
            block = self.read(LOST_SECONDS)
            if block is not None:
                yield block

    def listen_for_seconds(self, seconds: float) -> NDArray[np.float32]:
        """Return the next stretch of sound, shape (n,), at ``SAMPLE_RATE``.

        Raises:
            MicrophoneUnavailable: If the microphone gives nothing or goes away.
        """
        taken: list[NDArray[np.float32]] = []
        while sum(map(len, taken)) < seconds * SAMPLE_RATE:
            block = self.read(LOST_SECONDS)
            if block is None:
                raise MicrophoneUnavailable(
                    f"The microphone {self.name!r} gives no sound at all; plug it in again."
                )
            taken.append(block)
        return np.concatenate(taken)[: int(seconds * SAMPLE_RATE)]

    def pause(self) -> None:
        """Drop every block captured from now on: the companion is about to make a sound."""
        self._paused = True

    def resume(self) -> None:
        """Keep blocks again, from a moment (``AFTER_SPEAKING``) from now."""
        self._drop = int(AFTER_SPEAKING * self._rate)
        self._paused = False

    def _start(self, sounddevice: ModuleType) -> Any:
        try:
            stream = sounddevice.InputStream(
                device=self._device,
                channels=1,
                dtype="float32",
                samplerate=self._rate,
                blocksize=int(BLOCK_SECONDS * self._rate),
                callback=self._captured,
                finished_callback=self._finished,
            )
            stream.start()
        except (sounddevice.PortAudioError, ValueError) as error:
            raise trouble("input", self._device, error) from error
        return stream

    def _captured(
        self, block: NDArray[np.float32], frames: int, times: object, status: Any
    ) -> None:
        # Called from PortAudio's thread: nothing here may wait or fail.
        if status and status.input_overflow:
            self.overflows += 1
        if self._paused:
            return
        if self._drop > 0:
            self._drop -= frames
            return
        if self._blocks.full():
            self.overflows += 1
            with contextlib.suppress(queue.Empty):
                self._blocks.get_nowait()
        self._put(block.copy())

    def _finished(self) -> None:
        # PortAudio ends the stream by itself only when the device is lost.
        if not self._closing:
            self._put(None)

    def _put(self, block: NDArray[np.float32] | None) -> None:
        try:
            self._blocks.put_nowait(block)
        except queue.Full:
            self.overflows += 1

    def _gone(self) -> MicrophoneUnavailable:
        return MicrophoneUnavailable(
            f"The microphone {self.name!r} has stopped giving sound; "
            "plug it in again and resume the job."
        )
