"""What lies between a mouth and the recognizer: a room, a microphone, and a noise.

Rooms are computed by the image method (Allen and Berkley, 1979, "Image method for efficiently
simulating small-room acoustics"): a box whose walls mirror the mouth again and again. Nothing was
fitted on these rooms, nor on these microphones.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from companion.files.sound_format import SAMPLE_RATE
from tests.sounds import Samples, mix
from tools.hearing.recordings import Recording, stretch

SPEED_OF_SOUND = 343.0
"""Metres a second, in air of 20 degrees Celsius."""
AWAY = 2.0
"""Metres from the microphone, where somebody is not near it."""
ROOMS = 12
"""Different ones."""
LEVELS: tuple[float | None, ...] = (None, 20.0, 10.0, 5.0)
"""dB by which speech is over a recording; None where there is none."""


@dataclass(frozen=True, slots=True)
class Condition:
    """How a person is heard.

    Attributes:
        level: dB of speech over a real recording; None where there is none.
        away: Whether two meters from the microphone, in a room; else near it, as recorded.
    """

    level: float | None
    away: bool

    def __str__(self) -> str:
        """As a table has it: "near, 10 dB"."""
        noise = "clean" if self.level is None else f"{self.level:.0f} dB"
        return f"{'2 m' if self.away else 'near'}, {noise}"


CONDITIONS = tuple(Condition(level, away) for away in (False, True) for level in LEVELS)
CLEAN_CONDITIONS = tuple(one for one in CONDITIONS if one.level is None)


def conditions(recordings: Sequence[Recording]) -> tuple[Condition, ...]:
    """What can be measured: without recordings, only what is clean."""
    return CONDITIONS if recordings else CLEAN_CONDITIONS


def arriving(
    speech: Samples, condition: Condition, recordings: Sequence[Recording], draw: int
) -> Samples:
    """Speech as it comes to the recognizer.

    Args:
        speech: Shape (n,), with the pauses around it.
        condition: How it is heard.
        recordings: One of which is heard besides, where there is a level.
        draw: Decides which, and the room.
    """
    heard = in_a_room(speech, draw) if condition.away else speech
    if condition.level is None:
        return heard
    noise = stretch(recordings[draw % len(recordings)], len(heard), draw)
    return mix(heard, noise, condition.level)


def in_a_room(speech: Samples, draw: int, first: int = 0) -> Samples:
    """Speech from ``AWAY``, in a room: shape (n,), its peak as before.

    Args:
        speech: Shape (n,).
        draw: Decides which of ``ROOMS``.
        first: Number of the first of these; what is fitted has others than what is measured.
    """
    response = room_response(first + draw % ROOMS)
    size = len(speech) + len(response)
    spectrum = np.fft.rfft(speech, size) * np.fft.rfft(response, size)
    heard = np.fft.irfft(spectrum, size)[: len(speech)]
    return _as_loud(heard, speech)


@lru_cache(maxsize=ROOMS)
def room_response(number: int) -> NDArray[np.float64]:
    """What a click becomes two meters away, from the moment on in which it arrives.

    Args:
        number: Of the room: 5 to 8 m by 4 to 6 m, 2.6 to 3.4 m high, in which an echo takes 0.3 to
            0.7 s to fall by 60 dB, as in garages and workshops with things in them (common
            practice).
    """
    draw = np.random.default_rng(1000 + number)
    size = draw.uniform((5, 4, 2.6), (8, 6, 3.4))
    decay = draw.uniform(0.3, 0.7)
    microphone = np.array([*draw.uniform(0.8, size[:2] - 0.8), draw.uniform(0.8, 1.2)])
    mouth = _two_meters_from(microphone, size, draw)
    return shoebox(size, decay, mouth, microphone)


def shoebox(
    size: NDArray[np.float64],
    decay: float,
    mouth: NDArray[np.float64],
    microphone: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Response of a box by the image method, at 16 kHz.

    Args:
        size: Of the box, in metres.
        decay: Seconds in which its echo falls by 60 dB.
        mouth: Where the sound begins, in metres.
        microphone: Where it is heard.

    Returns:
        Shape (n,), ``decay`` long, from the arrival of the straight sound on.
    """
    volume, walls = size.prod(), 2 * (size[0] * size[1] + size[0] * size[2] + size[1] * size[2])
    # Sabine: decay = 0.161 s/m times volume over absorbing area. A wall gives back, in amplitude,
    # the root of what it does not absorb.
    absorbed = min(0.95, 0.161 * volume / (walls * decay))
    kept = np.sqrt(1 - absorbed)
    most = np.ceil(decay * SPEED_OF_SOUND / (2 * size)).astype(int)
    axes = []
    for axis in range(3):
        turn = np.arange(-most[axis], most[axis] + 1)
        images = np.concatenate(
            [2 * turn * size[axis] + mouth[axis], 2 * turn * size[axis] - mouth[axis]]
        )
        bounces = np.concatenate([np.abs(2 * turn), np.abs(2 * turn - 1)])
        axes.append((images - microphone[axis], bounces))
    (x, bx), (y, by), (z, bz) = axes
    distance = np.sqrt(
        x[:, None, None] ** 2 + y[None, :, None] ** 2 + z[None, None, :] ** 2
    ).ravel()
    bounced = (bx[:, None, None] + by[None, :, None] + bz[None, None, :]).ravel()
    first = float(np.sqrt(((mouth - microphone) ** 2).sum()))
    place = (distance - first) / SPEED_OF_SOUND * SAMPLE_RATE
    count = round(decay * SAMPLE_RATE)
    inside = place < count - 1
    place, strength = place[inside], kept ** bounced[inside] / distance[inside]
    # Between two samples: each gets its share.
    whole = np.floor(place).astype(int)
    response = np.bincount(whole, strength * (1 - (place - whole)), count)
    response += np.bincount(whole + 1, strength * (place - whole), count)
    return np.asarray(response / response[0], dtype=np.float64)


def _two_meters_from(
    microphone: NDArray[np.float64], size: NDArray[np.float64], draw: np.random.Generator
) -> NDArray[np.float64]:
    """A place for a mouth that stands ``AWAY`` from the microphone, inside the room."""
    while True:
        height = draw.uniform(1.3, 1.7)
        across = np.sqrt(AWAY**2 - (height - microphone[2]) ** 2)
        angle = draw.uniform(0, 2 * np.pi)
        x, y = microphone[:2] + across * np.array([np.cos(angle), np.sin(angle)])
        if 0.4 < x < size[0] - 0.4 and 0.4 < y < size[1] - 0.4:
            return np.array([x, y, height])


# --- microphones ---------------------------------------------------------------------------------
Tone = tuple[tuple[float, float], ...]
"""Pairs of frequency in Hz and gain in dB, from low to high."""

MICROPHONES: Mapping[str, Tone] = MappingProxyType(
    {
        "plain": ((0, 0), (8000, 0)),
        "phone": ((0, -60), (200, -40), (300, -3), (400, 0), (3300, 2), (3500, -6), (4000, -50)),
        "headset": ((0, -40), (80, -20), (150, -3), (1000, 0), (3500, 6), (7000, 0), (8000, -12)),
        "laptop": ((0, -40), (120, -18), (250, -4), (500, 0), (2500, 3), (5000, -2), (8000, -9)),
    }
)
"""What takes a sound up, each with the tone that is usual for it (common practice)."""


def through(sound: Samples, microphone: str) -> Samples:
    """A sound as one of ``MICROPHONES`` gives it, its peak as before."""
    return toned(sound, MICROPHONES[microphone])


def toned(sound: Samples, tone: Tone) -> Samples:
    """A sound whose frequencies have other levels, its peak as before."""
    spectrum = np.fft.rfft(sound)
    hertz = np.fft.rfftfreq(len(sound), 1 / SAMPLE_RATE)
    gain = np.interp(hertz, [each[0] for each in tone], [each[1] for each in tone])
    return _as_loud(np.fft.irfft(spectrum * 10 ** (gain / 20), len(sound)), sound)


def _as_loud(heard: NDArray[np.float64], before: Samples) -> Samples:
    peak = max(1e-9, float(np.abs(heard).max()))
    return np.asarray(heard * (float(np.abs(before).max()) / peak), dtype=np.float32)
