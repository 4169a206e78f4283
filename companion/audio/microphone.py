"""Blocks of sound from a microphone, with ears that close while the companion itself speaks."""

from __future__ import annotations

import contextlib
import queue
import time
from collections.abc import Iterator
from functools import partial
from types import TracebackType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from companion.audio.answering import CLOSE_SECONDS, NoAnswer, answer
from companion.audio.channels import TwoChannels
from companion.audio.devices import (
    Capture,
    Device,
    MicrophoneUnavailable,
    find_capture,
    load_sounddevice,
    look_again,
    trouble,
)
from companion.audio.own_sound import OwnSound
from companion.audio.resample import Resampler
from companion.audio.silence import OpeningAnew
from companion.audio.stream_clock import StreamClock
from companion.files.sound_format import SAMPLE_RATE

BLOCK_SECONDS = 0.03
"""Length of a block, in seconds: short, since it adds to every answer's delay."""
AFTER_SPEAKING = 0.2
"""Sound dropped after the companion spoke, in seconds: the room's echo, the output's delay."""
QUEUE_SECONDS = 60.0
"""Sound kept while nobody fetches it, in seconds; beyond it the oldest is dropped and counted."""
LOST_SECONDS = 2.0
"""A device that has given sound and captures nothing for this long, in seconds, is gone: some
systems end its stream, others let it hang."""
BEGIN_SECONDS = 8.0
"""How long a device may take to give its first sound, in seconds. A sound server opens a device at
once and gives nothing for a while (``docs/measurements.md``), and a headset has to wake up."""
LOOK_SECONDS = 0.5
"""Longest single wait for sound, in seconds. Waits are counted and not the clock: a computer that
slept, or was too busy to run this program, has not looked at the microphone meanwhile."""

_Blocks = queue.Queue[tuple[NDArray[np.float32], float] | None]


class Microphone:
    """A running input stream; use it in a ``with`` statement.

    Args:
        device: Which device; the system's usual one if None.
        own: What the companion itself sounds while the microphone is open.

    Attributes:
        name: As the system names the device; known once it is open.
        overflows: How often sound that was wanted was lost because it came faster than it was
            taken.
        captured_at: When the first sample of the block that was given last was captured, in seconds
            of ``time.monotonic``.

    Raises:
        MicrophoneUnavailable: On entering, if there is no microphone, or PortAudio is missing.
    """

    def __init__(self, device: Device = None, own: OwnSound | None = None) -> None:
        self._device = device
        self._own = own
        self._blocks: _Blocks = _queue()
        self._stream: Any = None
        self._rate = SAMPLE_RATE
        self._resampler = Resampler(SAMPLE_RATE)
        self._channels = TwoChannels(SAMPLE_RATE)
        self._paused = False
        self._drop = 0
        self._closing = False
        self._opening_anew = OpeningAnew()
        self._captures = 0
        self._clock = StreamClock(SAMPLE_RATE)
        self.name = ""
        self.overflows = 0
        self.captured_at = 0.0

    def __enter__(self) -> Microphone:
        self._open()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        where: TracebackType | None,
    ) -> None:
        self._closing = True
        self._put(self._blocks, None)  # Wakes whoever waits for a block.
        self._close()
        # The library prints a warning about a resampler that still exists when Python ends.
        self._resampler = Resampler(SAMPLE_RATE)

    def reopen(self) -> None:
        """Open the device anew after it went away, or whichever is the usual one by now; it may
        come back with another rate. What was captured before is dropped; paused stays paused.

        Raises:
            MicrophoneUnavailable: If it is not there yet.
        """
        self._close()
        look_again()
        self._open()

    def read(self, timeout: float) -> NDArray[np.float32] | None:
        """Return the next block, shape (n,), mono, at ``SAMPLE_RATE``; None if none came in time.

        Args:
            timeout: How long to wait, in seconds.

        Raises:
            MicrophoneUnavailable: If the microphone has gone away; what came before is given first.
        """
        try:
            captured = self._blocks.get(timeout=timeout)
        except queue.Empty:
            if not self._closing and self._stream is not None and not self._stream.active:
                raise self._gone() from None
            return None
        if captured is None:
            # Left in place, so that every later call says the same.
            self._put(self._blocks, None)
            if self._closing:
                return None
            raise self._gone()
        block, self.captured_at = captured
        return self._resampler.feed(self._channels.feed(block, learn=self._others_heard()))

    def blocks(self) -> Iterator[NDArray[np.float32]]:
        """Yield blocks as they come, until the microphone is closed. One that gives nothing but
        silence is opened anew now and then.

        Raises:
            MicrophoneUnavailable: If it goes away.
        """
        while (block := self._next()) is not None:
            yield block
            if self._opening_anew.feed(block) and not self._closing:
                self.reopen()

    def listen_for_seconds(self, seconds: float) -> NDArray[np.float32]:
        """Return the next stretch of sound, shape (n,), at ``SAMPLE_RATE``.

        Raises:
            MicrophoneUnavailable: If the microphone gives nothing or goes away.
        """
        taken: list[NDArray[np.float32]] = []
        while sum(map(len, taken)) < seconds * SAMPLE_RATE:
            block = self._next()
            if block is None:
                break
            taken.append(block)
        return np.concatenate([np.zeros(0, dtype=np.float32), *taken])[: int(seconds * SAMPLE_RATE)]

    def pause(self) -> None:
        """Drop every block captured from now on: the companion is about to make a sound."""
        self._paused = True

    def resume(self) -> None:
        """Keep blocks again, from a moment (``AFTER_SPEAKING``) from now."""
        self._drop = int(AFTER_SPEAKING * self._rate)
        self._paused = False

    def _next(self) -> NDArray[np.float32] | None:
        """The next block, however long it takes while the device captures; None once closed."""
        waited, captures = 0.0, self._captures
        while not self._closing:
            look = min(LOOK_SECONDS, LOST_SECONDS)
            block = self.read(look)
            if block is not None:
                return block
            waited += look
            if self._captures != captures:
                waited, captures = 0.0, self._captures
            elif not self._closing and waited >= (LOST_SECONDS if captures else BEGIN_SECONDS):
                raise self._gone()
        return None

    def _others_heard(self) -> bool:
        """Whether the block that was given last holds nothing of what the companion sounded."""
        own = self._own
        return own is None or (own.known and own.quiet_for(self.captured_at) >= AFTER_SPEAKING)

    def _open(self) -> None:
        capture = find_capture(self._device)
        self.name = capture.name
        self._rate = capture.rate
        self._resampler = Resampler(capture.rate)
        self._channels = TwoChannels(capture.rate)
        self._blocks = _queue()
        self._captures = 0
        self._clock = StreamClock(capture.rate)
        self._stream = self._start(capture)

    def _close(self) -> None:
        stream, self._stream = self._stream, None
        if stream is not None:
            # Where the sound system hangs, so does this; the device is then closed later.
            with contextlib.suppress(NoAnswer):
                answer(lambda: _end(stream), CLOSE_SECONDS)

    def _start(self, capture: Capture) -> Any:
        sounddevice = load_sounddevice("input")

        def start() -> Any:
            stream = sounddevice.InputStream(
                device=self._device,
                channels=capture.channels,
                dtype="float32",
                samplerate=capture.rate,
                blocksize=int(BLOCK_SECONDS * capture.rate),
                # Each stream has a queue of its own, so that the end of one is not taken for the
                # end of the next.
                callback=partial(self._captured, self._blocks),
                finished_callback=partial(self._finished, self._blocks),
            )
            stream.start()
            return stream

        try:
            return answer(start, late=_end)
        except (NoAnswer, sounddevice.PortAudioError, ValueError) as error:
            raise trouble("input", self._device, error) from error

    def _captured(
        self,
        blocks: _Blocks,
        block: NDArray[np.float32],
        frames: int,
        times: object,
        status: Any,
    ) -> None:
        # Called from PortAudio's thread: nothing here may wait or fail.
        self._captures += 1
        at = self._clock.arrived(frames, time.monotonic())
        if self._paused:
            return
        if self._drop > 0:
            self._drop -= frames
            return
        # The flag means that sound was lost before this block; before the first block there was
        # none to lose.
        if status and status.input_overflow and self._captures > 1:
            self.overflows += 1
        if blocks.full():
            self.overflows += 1
            with contextlib.suppress(queue.Empty):
                blocks.get_nowait()
        self._put(blocks, (block.copy(), at))

    def _finished(self, blocks: _Blocks) -> None:
        # PortAudio ends the stream by itself only when the device is lost.
        if not self._closing:
            self._put(blocks, None)

    def _put(self, blocks: _Blocks, block: tuple[NDArray[np.float32], float] | None) -> None:
        try:
            blocks.put_nowait(block)
        except queue.Full:
            self.overflows += 1

    def _gone(self) -> MicrophoneUnavailable:
        if not self._captures:
            return MicrophoneUnavailable(
                f"The microphone {self.name!r} gives no sound at all; plug it in again."
            )
        return MicrophoneUnavailable(
            f"The microphone {self.name!r} has stopped giving sound; plug it in again."
        )


def _end(stream: Any) -> None:
    # abort, not stop: what is still in the device's buffers is of no use any more.
    stream.abort(ignore_errors=True)
    stream.close(ignore_errors=True)


def _queue() -> _Blocks:
    return queue.Queue(maxsize=int(QUEUE_SECONDS / BLOCK_SECONDS))
