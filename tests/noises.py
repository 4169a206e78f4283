"""More noises of a shop, for measuring: nothing was ever fitted on these, nor on the rooms."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

import numpy as np

from companion.files.sound_format import SAMPLE_RATE
from tests import sounds
from tests.sounds import Samples


def grinder(seconds: float, *, seed: int = 0) -> Samples:
    """An angle grinder: the whine of motor and gears, and the disk biting now and then.

    Small ones turn at about 11 000 revolutions a minute without load and sag under it (common
    practice).
    """
    random = np.random.default_rng(seed)
    count = round(seconds * SAMPLE_RATE)
    time = np.arange(count) / SAMPLE_RATE
    # How hard it is pressed on: from nothing to all within some tenths of a second.
    knots = np.arange(0, seconds + 1, 0.35)
    bite = np.interp(time, knots, random.choice([0.0, 0.2, 0.8, 1.0], len(knots)))
    turn = 2 * np.pi * np.cumsum(183 * (1 - 0.12 * bite)) / SAMPLE_RATE
    whine = sum(
        strength * np.sin(order * turn + random.uniform(0, 2 * np.pi))
        for order, strength in ((1, 0.5), (2, 0.3), (11, 0.8), (12, 0.4), (22, 0.3), (33, 0.1))
    )
    hiss = random.standard_normal(count)
    # Steel being cut is brightest about 3 to 6 kHz.
    spectrum = np.fft.rfft(hiss)
    frequency = np.fft.rfftfreq(count, 1 / SAMPLE_RATE)
    spectrum *= np.exp(-(((frequency - 4200) / 2200) ** 2))
    cutting = np.fft.irfft(spectrum, count)
    cutting /= np.sqrt(np.mean(cutting**2))
    chatter = 1 + 0.5 * np.sign(np.sin(turn))
    return sounds._finish(np.asarray(0.6 * whine + 1.5 * bite * chatter * cutting))


def radio(seconds: float, *, seed: int = 0) -> Samples:
    """Music on a small loudspeaker: four chords over and over, a bass, a melody and a beat."""
    random = np.random.default_rng(seed)
    count = round(seconds * SAMPLE_RATE)
    sound = np.zeros(count)
    beat = 60 / random.uniform(88, 132)
    key = 110 * 2 ** (random.integers(0, 12) / 12)
    chords = ((0, 4, 7), (9, 12, 16), (5, 9, 12), (7, 11, 14))
    note = 0
    begin = -random.uniform(0, 4 * beat)
    while begin < seconds:
        chord = chords[note // 4 % 4]
        played = [2.0 * 2 ** (step / 12) for step in chord] if note % 2 == 0 else []
        if note % 4 in (0, 3):
            played.append(2 ** (chord[0] / 12))
        if random.random() < 0.7:
            played.append(4.0 * 2 ** (float(random.choice((0, 2, 4, 7, 9))) / 12))
        for factor in played:
            pitch = key * factor
            modes = tuple((pitch * n, 0.25 / n**0.5, 1 / n) for n in range(1, 8))
            sounds._add(sound, sounds._decaying(modes, random), begin, strength=0.5)
        if note % 2 == 1:
            sounds._add(sound, sounds._burst(0.04, random, strength=0.6), begin, strength=1.0)
        begin += beat / 2
        note += 1
    spectrum = np.fft.rfft(sound)
    frequency = np.fft.rfftfreq(count, 1 / SAMPLE_RATE)
    spectrum *= (frequency > 180) & (frequency < 5500)
    return sounds._finish(np.fft.irfft(spectrum, count))


NOISES: Mapping[str, Callable[..., Samples]] = MappingProxyType(
    {**sounds.NOISES, "grinder": grinder, "radio": radio}
)
"""Every noise by short name; each takes seconds and ``seed``."""


def in_a_shop(
    speech: Samples, *, decay: float = 0.7, distance: float = 0.5, seed: int = 0
) -> Samples:
    """Speech as it sounds some way from the microphone, between bare walls.

    Args:
        speech: Shape (n,).
        decay: Seconds until the echo has fallen by 60 dB; 0.5 to 1 s is usual in a garage (common
            practice).
        distance: Echo over direct sound, in amplitude.
        seed: Of the walls.

    Returns:
        Shape (n,), peak 0.5.
    """
    random = np.random.default_rng(seed)
    length = round(decay * SAMPLE_RATE)
    echo = random.standard_normal(length) * 10 ** (-3 * np.arange(length) / length)
    # The first walls answer after some milliseconds.
    echo[: round(0.004 * SAMPLE_RATE)] = 0
    echo *= distance / np.sqrt(np.sum(echo**2))
    echo[0] = 1
    heard = np.fft.irfft(
        np.fft.rfft(speech, len(speech) + length) * np.fft.rfft(echo, len(speech) + length)
    )[: len(speech)]
    return np.asarray(heard * 0.5 / np.abs(heard).max(), dtype=np.float32)
