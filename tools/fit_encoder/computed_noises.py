"""Noises computed to fit on: engines, tones, hum, clanks, white noise, and people by the door.

Not among them are the compressor, grinder, radio, babble and bare room that ``tools/hearing``
measures by.
"""

from __future__ import annotations

import random
from typing import Any

import numpy as np
from numpy.typing import NDArray

from companion.files.sound_format import SAMPLE_RATE
from tests import sounds
from tests.sounds import NOISES, Samples, idling_engine


def computed_noise(count: int, draw: random.Random, noise_of: np.random.Generator) -> Samples:
    """A noise of a kind drawn by chance.

    Args:
        count: Samples, at 16 kHz.
        draw: Draws its kind and its figures.
        noise_of: Draws its samples.
    """
    seconds, seed = count / SAMPLE_RATE + 0.1, draw.randrange(10**6)
    noise: NDArray[np.floating[Any]]
    kinds = "pink engine engine hum clanks white waves shop drone whine talk"
    kind = draw.choice(kinds.split())
    engine = idling_engine(seconds, rpm=draw.uniform(900, 3800), seed=seed)
    if kind == "engine":
        noise = engine
    elif kind == "white":
        noise = 0.1 * noise_of.standard_normal(count + 1000)
    elif kind == "waves":
        noise = NOISES["pink"](seconds, seed=seed)
        time = np.arange(len(noise)) / SAMPLE_RATE
        noise = noise * (1 + 0.9 * np.sin(2 * np.pi * draw.uniform(3, 40) * time))
    elif kind in ("drone", "whine"):
        noise = _tones(len(engine), draw, lowest=40.0 if kind == "drone" else 300.0)
        noise = noise + draw.uniform(0.1, 1.0) * NOISES["pink"](seconds, seed=seed)
    elif kind == "talk":
        noise = _others_talking(count + 1000, draw)
    elif kind == "shop":
        noise = engine + 0.6 * NOISES["clanks"](seconds, seed=seed)
        noise = noise + 0.5 * NOISES["hum"](seconds, seed=seed)
    else:
        noise = NOISES[kind](seconds, seed=seed)
    return np.asarray(noise[:count], dtype=np.float32)


def _tones(count: int, draw: random.Random, *, lowest: float) -> Samples:
    """A turning machine: a tone that wavers, with some of its harmonics, swelling and fading."""
    time = np.arange(count) / SAMPLE_RATE
    root = lowest * 8 ** draw.random()
    wavering = 1 + draw.uniform(0, 0.05) * np.sin(2 * np.pi * draw.uniform(0.1, 3) * time)
    turn = 2 * np.pi * np.cumsum(root * wavering) / SAMPLE_RATE
    sound = sum(
        draw.random() / number * np.sin(number * turn + draw.uniform(0, 6.3))
        for number in range(1, 1 + min(30, int(7000 // root)))
    )
    swelling = 1 + draw.uniform(0, 0.9) * np.sin(2 * np.pi * draw.uniform(0.2, 8) * time)
    return sounds._finish(np.asarray(sound * swelling, dtype=np.float64))


def _others_talking(count: int, draw: random.Random) -> Samples:
    """People by the door; not the voices that measuring has there."""
    sound = 1e-3 * np.random.default_rng(draw.randrange(10**6)).standard_normal(count)
    for voice in draw.sample(("kal", "us", "us-woman", "slt"), draw.randint(1, 4)):
        at = -draw.uniform(0, 1.5)
        while at < count / SAMPLE_RATE:
            said = sounds.speak(draw.choice(sounds._TALK), voice).astype(np.float64)
            sounds._add(sound, said, at, strength=draw.uniform(0.5, 1.2))
            at += len(said) / SAMPLE_RATE + draw.uniform(0.1, 0.8)
    return sounds._finish(sound)
