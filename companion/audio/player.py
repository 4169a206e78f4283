"""Tones and speech out of a loudspeaker; a sound can be cut short at any moment."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from companion.audio.answering import give_up
from companion.audio.devices import (
    Device,
    SoundUnavailable,
    SpeakerUnavailable,
    find_device,
    load_sounddevice,
    sounding,
    supports_rate,
    trouble,
)
from companion.audio.resample import resample
from companion.files.sound_format import SAMPLE_RATE

GRACE = 8.0
"""How long a device may take no sound before it counts as failed, in seconds: before it begins,
between two pieces, and until it has ended. A sound server or a headset may need a while to begin
(``docs/measurements.md``); each piece taken starts the time anew."""
GRACE_AGAIN = 3.0
"""The same for a device that failed in this way a short while ago. The microphone is closed
meanwhile, and losing ``GRACE`` at every answer would cost more calls than the answers are worth."""
FORGIVEN_SECONDS = 30.0
"""How long after such a failure, in seconds, ``GRACE`` is granted again: a device that has become
slow is not to be lost for good."""

ABORT_SECONDS = 1.0
"""How long a device may take to let go of a sound that was cut short, in seconds."""
BEGUN_SECONDS = 0.005
"""Seconds between two looks at whether the device has begun to take it."""
LOOK_SECONDS = 0.05
"""Seconds between two looks at whether the device has taken more."""


class Player:
    """The loudspeaker.

    Args:
        device: Which device; the system's usual one if None.
        clock: Seconds of a clock that does not jump.

    Attributes:
        name: As the system names the device.
        rate: The rate at which it is driven, in Hz.

    Raises:
        SpeakerUnavailable: If there is no loudspeaker, or PortAudio is missing.
    """

    def __init__(
        self, device: Device = None, *, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._device = device
        info = find_device("output", device)
        self.name = info.name
        self.rate = SAMPLE_RATE if supports_rate("output", device, SAMPLE_RATE) else info.rate
        self._clock = clock
        self._failed_at: float | None = None
        self._playback: _Playback | None = None

    def __enter__(self) -> Player:
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    def play(self, samples: NDArray[np.float32], rate: int = SAMPLE_RATE) -> bool:
        """Play a sound and wait until it has ended, or the device takes nothing for ``GRACE``.

        A device that goes away meanwhile is opened once more: another one may be there by now, and
        what is half said may be a caution.

        Args:
            samples: Shape (n,), mono, -1 to 1.
            rate: Its rate, in Hz.

        Returns:
            Whether it was played to its end, not cut short by ``stop``.

        Raises:
            SpeakerUnavailable: If the device has gone away, takes no sound or does not finish.
        """
        if len(samples) == 0:
            return True
        sound = resample(samples, rate, self.rate)
        playback = self._begin(sound)
        if playback.went_away:
            playback = self._begin(sound)
        if playback.error is not None:
            raise playback.error
        if playback.went_away:
            raise SpeakerUnavailable(
                f"The loudspeaker {self.name!r} has stopped taking sound; plug it in again."
            )
        self._failed_at = None
        return playback.complete

    def stop(self) -> None:
        """Cut short what is playing; may be called from another thread."""
        if self._playback is not None:
            self._playback.stop()

    def began(self, sound: NDArray[np.float32], at: float) -> None:
        """Called when a sound begins, from another thread; for whoever wants to know.

        Args:
            sound: Shape (n,), at ``rate``.
            at: When its first sample was given to the device, in seconds of ``time.monotonic``.
        """

    def ended(self, at: float) -> None:
        """Called when the sound that began last has ended or was cut short; see ``began``."""

    def _begin(self, sound: NDArray[np.float32]) -> _Playback:
        """Play a sound as far as the device takes it."""
        if self._playback is not None and not self._playback.over.is_set():
            # The device still holds the previous sound; a second one would hang too.
            raise self._takes_nothing()
        playback = self._playback = _Playback(sound)
        thread = threading.Thread(
            target=self._sound, args=(playback,), name="loudspeaker", daemon=True
        )
        thread.start()
        progress = playback.wait(self._grace())
        if not playback.over.wait(0.0 if progress else ABORT_SECONDS):
            give_up(thread)
        if not progress and not playback.stopped:
            self._failed_at = self._clock()
            raise self._takes_nothing()
        return playback

    def _grace(self) -> float:
        if self._failed_at is None or self._clock() - self._failed_at >= FORGIVEN_SECONDS:
            return GRACE
        return min(GRACE, GRACE_AGAIN)

    def _takes_nothing(self) -> SpeakerUnavailable:
        return SpeakerUnavailable(
            f"The loudspeaker {self.name!r} does not take any sound; "
            "check that it is plugged in and switched on."
        )

    def _sound(self, playback: _Playback) -> None:
        """Give a sound to the device, in a thread that nobody has to wait for: the sound library
        hangs where the sound system does."""
        sounddevice = load_sounddevice("output")
        try:
            with (
                sounding,
                sounddevice.OutputStream(
                    device=self._device,
                    channels=1,
                    dtype="float32",
                    samplerate=self.rate,
                    callback=playback.give,
                    finished_callback=playback.done.set,
                ) as stream,
            ):
                playback.moves += 1
                while playback.begun_at is None and not playback.done.wait(BEGUN_SECONDS):
                    pass
                if playback.begun_at is not None:
                    self.began(playback.sound, playback.begun_at)
                playback.done.wait()
                if not playback.complete:
                    # The with statement's end would wait for what the device still holds.
                    stream.abort(ignore_errors=True)
        # An error raised in a thread would be seen by nobody, and the reply would be missing
        # without a word.
        except Exception as error:
            playback.error = trouble("output", self._device, error)
        finally:
            self.ended(time.monotonic())
            playback.over.set()


class _Playback:
    """Hands a sound to PortAudio piece by piece.

    Attributes:
        done: The device has ended, or is not waited for any more.
        over: The device is closed again.
        sound: All of it.
        begun_at: When the device took the first of it, in seconds; None before.
        moves: How often the device did anything.
        complete: Every piece was taken.
        stopped: It was cut short.
        error: Why it could not be played.
    """

    def __init__(self, sound: NDArray[np.float32]) -> None:
        self.sound = sound
        self.begun_at: float | None = None
        self._place = 0
        self._end = load_sounddevice("output").CallbackStop
        self.done = threading.Event()
        self.over = threading.Event()
        self.moves = 0
        self.complete = False
        self.stopped = False
        self.error: SoundUnavailable | None = None

    @property
    def went_away(self) -> bool:
        """Whether the device ended before the sound did."""
        return self.error is None and not self.complete and not self.stopped

    def wait(self, grace: float) -> bool:
        """Wait until it is over; False if the device has done nothing for so long, in seconds.

        It is counted what was waited, not what the clock says: a computer that slept, or was too
        busy to run this, has not looked at the device meanwhile.
        """
        waited, moves = 0.0, self.moves
        while not self.over.wait(LOOK_SECONDS):
            waited += LOOK_SECONDS
            if self.moves != moves:
                waited, moves = 0.0, self.moves
            if waited >= (min(grace, ABORT_SECONDS) if self.stopped else grace):
                self.done.set()
                return False
        return True

    def stop(self) -> None:
        """End it now."""
        self.stopped = True
        self.done.set()

    def give(self, out: NDArray[np.float32], frames: int, times: object, status: Any) -> None:
        self.moves += 1
        if self.begun_at is None:
            self.begun_at = time.monotonic()
        piece = self.sound[self._place : self._place + frames]
        if self.stopped:
            piece = piece[:0]
        out[: len(piece), 0] = piece
        out[len(piece) :, 0] = 0
        self._place += len(piece)
        if self._place >= len(self.sound):
            self.complete = True
        if len(piece) < frames:
            raise self._end
