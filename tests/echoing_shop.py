"""A shop in which the microphone hears the loudspeaker: a way from one to the other that is worked
out, on a clock that counts samples.

Nothing here waits: the shop goes on by a block whenever the ears take one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from companion.audio.own_sound import OwnSound
from companion.files.sound_format import SAMPLE_RATE
from tests.sounds import Samples, pink_noise

BLOCK = 480
CALLER = 0.05
"""Root mean square of whoever calls, of full scale, at the microphone: -26 dB."""
QUIET = 0.001
"""The same of a quiet shop."""
STOPS_AFTER = 0.1
"""Seconds from the order to stop until the loudspeaker is silent: a message to another program, and
what the device holds."""


@dataclass(frozen=True, slots=True)
class Way:
    """How the loudspeaker is heard by the microphone.

    Attributes:
        level: Of the companion's voice over the caller's, in dB.
        delay: Of buffers and air, in seconds.
        decay: Seconds until the room's echo has fallen by 60 dB.
        reverberant: Echo of the room over direct sound, in dB.
        drive: How far the loudspeaker is driven into its limits; 0 is none.
        seed: Of the walls.
    """

    level: float
    delay: float = 0.1
    decay: float = 0.4
    reverberant: float = 0.0
    drive: float = 1.0
    seed: int = 7

    def heard(self, sound: Samples) -> NDArray[np.float64]:
        """A sound of the loudspeaker as the microphone hears it, without the delay."""
        return _through(self._played(sound), self._walls())

    def _played(self, sound: Samples) -> NDArray[np.float64]:
        """What a small loudspeaker makes of it: no bass, and bent at the loudest."""
        spectrum = np.fft.rfft(sound)
        ratio = (np.fft.rfftfreq(len(sound), 1 / SAMPLE_RATE) / 250.0) ** 2
        thin = np.fft.irfft(spectrum * ratio / (1 + ratio), len(sound))
        if not self.drive:
            return np.asarray(thin)
        bent = self.drive * thin / 0.5
        return np.asarray(np.tanh(bent + 0.15 * bent**2) / self.drive * 0.5)

    def _walls(self) -> NDArray[np.float64]:
        random = np.random.default_rng(self.seed)
        length = round(self.decay * SAMPLE_RATE)
        echo = random.standard_normal(length) * 10 ** (-3 * np.arange(length) / length)
        echo[: round(0.002 * SAMPLE_RATE)] = 0
        echo *= 10 ** (self.reverberant / 20) / np.sqrt(np.sum(echo**2))
        echo[0] = 1.0
        return echo


def loudness(sound: NDArray[np.float64] | Samples) -> float:
    """Root mean square of a sound where it is not silent."""
    frames = sound[: len(sound) // 320 * 320].reshape(-1, 320).astype(np.float64)
    powers = np.mean(frames**2, axis=1)
    return float(np.sqrt(np.mean(powers[powers > 0.01 * powers.max()])))


def _through(
    sound: NDArray[np.float64] | Samples, walls: NDArray[np.float64]
) -> NDArray[np.float64]:
    size = len(sound) + len(walls)
    return np.asarray(np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(walls, size), size))


@dataclass(slots=True)
class _Playing:
    begin: int
    sound: Samples
    gain: float
    laid: NDArray[np.float64] = field(default_factory=lambda: np.zeros(0))


class EchoingShop:
    """The microphone of that shop, as a ``Source`` of ears.

    Args:
        own: Told of what the loudspeaker sounds.
        way: From it to the microphone.
        script: Goes on with each block: what it does happens before the next is heard.
        noise: Of the shop, one second or more at least, as it is heard.
    """

    name = "worked out"
    overflows = 0

    def __init__(
        self,
        own: OwnSound,
        way: Way,
        script: Callable[[EchoingShop], Iterator[None]],
        noise: Samples | None = None,
    ) -> None:
        self.own = own
        self.way = way
        self.now = 0
        self._script = script
        self._noise = pink_noise(10.0) * (QUIET / 0.1) if noise is None else noise
        self._laid = np.zeros(SAMPLE_RATE)
        self._playing: _Playing | None = None

    @property
    def seconds(self) -> float:
        """The shop's clock."""
        return self.now / SAMPLE_RATE

    # --- the loudspeaker ---
    def sound(self, samples: Samples) -> None:
        """Begin to sound something."""
        gain = CALLER * 10 ** (self.way.level / 20) / loudness(self.way.heard(samples))
        self._playing = _Playing(self.now, samples, gain)
        self._lay(samples)
        self.own.began(samples, self.seconds)

    @property
    def sounding(self) -> bool:
        """Whether it still sounds."""
        playing = self._playing
        return playing is not None and self.now < playing.begin + len(playing.sound)

    def stop(self) -> None:
        """Cut it short."""
        playing = self._playing
        if playing is None or not self.sounding:
            return
        count = self.now - playing.begin + round(STOPS_AFTER * SAMPLE_RATE)
        if count < len(playing.sound):
            playing.sound = playing.sound[:count]
            self._lay(playing.sound)
            self.own.ended((playing.begin + count) / SAMPLE_RATE)

    def _lay(self, samples: Samples) -> None:
        playing = self._playing
        assert playing is not None
        begin = playing.begin + round(self.way.delay * SAMPLE_RATE)
        self._add(begin, -playing.laid)
        playing.laid = playing.gain * self.way.heard(samples)
        self._add(begin, playing.laid)

    # --- whoever calls ---
    def call(self, samples: Samples) -> None:
        """Let somebody begin to say something."""
        walls = Way(0.0, decay=0.3, reverberant=-6.0, seed=9)._walls()
        heard = _through(samples, walls)
        self._add(self.now, heard * (CALLER / loudness(heard)))

    def _add(self, begin: int, sound: NDArray[np.float64]) -> None:
        if begin + len(sound) > len(self._laid):
            more = begin + len(sound) - len(self._laid) + SAMPLE_RATE
            self._laid = np.concatenate((self._laid, np.zeros(more)))
        self._laid[begin : begin + len(sound)] += sound

    # --- as a source ---
    @property
    def captured_at(self) -> float:
        """When the block that was given last began."""
        return (self.now - BLOCK) / SAMPLE_RATE

    def blocks(self) -> Iterator[Samples]:
        """What the microphone hears, until the script has ended."""
        for _ in self._script(self):
            self._add(self.now + BLOCK, np.zeros(0))
            heard = self._laid[self.now : self.now + BLOCK]
            noise = np.take(self._noise, range(self.now, self.now + BLOCK), mode="wrap")
            self.now += BLOCK
            yield np.clip(heard + noise, -1.0, 1.0).astype(np.float32)

    def pause(self) -> None:
        """It is not closed."""

    def resume(self) -> None:
        """See ``pause``."""

    def reopen(self) -> None:
        """It never goes away."""
