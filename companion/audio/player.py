"""Tones and speech out of a loudspeaker; a sound can be cut short at any moment."""

from __future__ import annotations

import threading
from typing import Any

import numpy as np
from numpy.typing import NDArray

from companion.audio.devices import (
    Device,
    SpeakerUnavailable,
    find_device,
    load_sounddevice,
    sounding,
    supports_rate,
    trouble,
)
from companion.audio.resample import resample
from companion.audio.utterance import SAMPLE_RATE

GRACE = 1.0
"""How much longer than the sound itself to wait for a device to finish it, in seconds."""


class Player:
    """The loudspeaker.

    Args:
        device: Which device; the system's usual one if None.

    Attributes:
        name: As the system names the device.
        rate: The rate at which it is driven, in Hz.

    Raises:
        SpeakerUnavailable: If there is no loudspeaker, or PortAudio is missing.
    """

    def __init__(self, device: Device = None) -> None:
        self._device = device
        info = find_device("output", device)
        self.name = info.name
        self.rate = SAMPLE_RATE if supports_rate("output", device, SAMPLE_RATE) else info.rate
        self._stop = threading.Event()

    def __enter__(self) -> Player:
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    def play(self, samples: NDArray[np.float32], rate: int = SAMPLE_RATE) -> bool:
        """Play a sound and wait until it has ended, never longer than it lasts and ``GRACE``.

        Args:
            samples: Shape (n,), mono, -1 to 1.
            rate: Its rate, in Hz.

        Returns:
            Whether it was played to its end, not cut short by ``stop``.

        Raises:
            SpeakerUnavailable: If the device has gone away or does not finish.
        """
        self._stop.clear()
        if len(samples) == 0:
            return True
        sound = resample(samples, rate, self.rate)
        playback = _Playback(sound, self._stop)
        with sounding:
            ended = self._sound(sound, playback)
        if not ended:
            raise SpeakerUnavailable(
                f"The loudspeaker {self.name!r} does not take any sound; "
                "check that it is plugged in and switched on."
            )
        return playback.complete

    def stop(self) -> None:
        """Cut short what is playing; may be called from another thread."""
        self._stop.set()

    def _sound(self, sound: NDArray[np.float32], playback: _Playback) -> bool:
        """Whether the device took the whole sound."""
        sounddevice = load_sounddevice("output")
        try:
            with sounddevice.OutputStream(
                device=self._device,
                channels=1,
                dtype="float32",
                samplerate=self.rate,
                callback=playback.give,
                finished_callback=playback.done.set,
            ) as stream:
                ended = playback.done.wait(len(sound) / self.rate + GRACE)
                if not ended:
                    # Entering the with statement's end would wait for a device that hangs.
                    stream.abort(ignore_errors=True)
        except (sounddevice.PortAudioError, ValueError) as error:
            raise trouble("output", self._device, error) from error
        return ended


class _Playback:
    """Hands a sound to PortAudio piece by piece."""

    def __init__(self, sound: NDArray[np.float32], stop: threading.Event) -> None:
        self._sound = sound
        self._stop = stop
        self._place = 0
        self._over = load_sounddevice("output").CallbackStop
        self.done = threading.Event()
        self.complete = False

    def give(self, out: NDArray[np.float32], frames: int, times: object, status: Any) -> None:
        piece = self._sound[self._place : self._place + frames]
        if self._stop.is_set():
            piece = piece[:0]
        out[: len(piece), 0] = piece
        out[len(piece) :, 0] = 0
        self._place += len(piece)
        if self._place >= len(self._sound):
            self.complete = True
        if len(piece) < frames:
            raise self._over
