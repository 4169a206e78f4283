"""Real noises to fit on and to measure by, from free packages of Debian.

They are the sound effects and the music of games: engines, hammers, water, crowds, alarms, weather.
Taken are all sounds of at least ``SMALLEST_FILE``, but no voices. By the packages' own copyright
files they are free:

- to fit on: ``torcs-data`` (GPL-2+; its Free Art parts are pictures and models, not its sounds),
  ``lincity-ng-data`` (sound effects GPL-2+ or CC BY-SA 2.0, the rest GPL-2+), ``unknown-horizons``
  (GPL-2+, its sounds CC BY-SA 3.0), ``colobot-common-sounds`` (GPL-3+);
- to measure by alone: every third sound of the first two, ``stormbaancoureur-data`` (GPL-3) and
  ``xmoto-data`` (GPL-2+).

No sound of them is in the project or in what was fitted.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
import soxr

from companion.errors import CompanionError
from tests.sounds import Samples
from tools.fit_encoder.computed_noises import computed_noise
from tools.fit_encoder.layout import NOISE_KEPT, NOISE_TO_FIT, SAMPLE_RATE, write_sound

SMALLEST_FILE = 60_000
"""Bytes; what is smaller is a click."""
MOST_FRAMES = 3_000_000
"""Of a file that are read."""
LONGEST = 40
"""Seconds of a sound."""
LONG = 60
"""Seconds; the first ``LEFT_OUT`` seconds of what is longer are left out: music begins softly."""
LEFT_OUT = 5
SHORTEST = 0.5
"""Seconds."""
SOFTEST = 1e-4
"""Root mean square, of 1."""
PEAK = 0.7
EVERY_THIRD = 3
COMPUTED = 60
COMPUTED_SECONDS = 20


@dataclass(frozen=True, slots=True)
class Package:
    """A package of Debian with sounds.

    Attributes:
        name: Of the package.
        folder: Where it puts them, below the root.
        patterns: Which files are taken.
        kept: How many of them are kept back: of every so many the last one; 1 keeps all, 0 none.
        licence: Of its sounds, by its copyright file.
    """

    name: str
    folder: str
    patterns: tuple[str, ...]
    kept: int
    licence: str


PACKAGES = (
    Package("torcs-data", "usr/share/games/torcs", ("sound/*.wav",), EVERY_THIRD, "GPL-2+"),
    Package(
        "lincity-ng-data",
        "usr/share/games/lincity-ng",
        ("sounds/*.wav",),
        EVERY_THIRD,
        "GPL-2+ or CC BY-SA 2.0",
    ),
    Package("unknown-horizons", "usr/share/unknown-horizons", ("*.ogg",), 0, "CC BY-SA 3.0"),
    Package("colobot-common-sounds", "usr/share/games/colobot", ("*.ogg", "*.wav"), 0, "GPL-3+"),
    Package("stormbaancoureur-data", "usr/share/games/stormbaancoureur", ("*.wav",), 1, "GPL-3"),
    Package("xmoto-data", "usr/share/games/xmoto", ("*.ogg",), 1, "GPL-2+"),
)


def sounds_of(package: Package, roots: Sequence[Path]) -> list[Path]:
    """Find the sounds of a package, in the order of their names.

    Args:
        package: Which.
        roots: Where packages are installed (``/``) or unpacked (``dpkg-deb -x``).

    Raises:
        CompanionError: If it is in none of them.
    """
    for root in roots:
        folder = root / package.folder
        if folder.is_dir():
            return sorted(
                path
                for pattern in package.patterns
                for path in folder.rglob(pattern)
                if "voice" not in path.parts and path.stat().st_size > SMALLEST_FILE
            )
    raise CompanionError(
        f"The noises of the package {package.name} are in none of {', '.join(map(str, roots))}; "
        f"install it, or unpack it with: apt-get download {package.name} && dpkg-deb -x "
        f"{package.name}_*.deb FOLDER."
    )


def shared_out(found: Mapping[Package, Sequence[Path]]) -> tuple[list[Path], list[Path]]:
    """Share out sounds.

    Returns:
        Those to fit on, and those to measure by.
    """
    fit: list[Path] = []
    kept: list[Path] = []
    for package, paths in found.items():
        for number, path in enumerate(paths, start=1):
            held = package.kept > 0 and number % package.kept == 0
            (kept if held else fit).append(path)
    return fit, kept


def bring_noises(to: Path, roots: Sequence[Path]) -> Mapping[str, float]:
    """Write the noises of the packages, and the computed ones, to a folder to fit on.

    Returns:
        Seconds of real noises to fit on and to measure by, by their folders' names.

    Raises:
        CompanionError: If a package is missing.
    """
    fit, kept = shared_out({package: sounds_of(package, roots) for package in PACKAGES})
    seconds = {
        NOISE_TO_FIT: _bring(fit, to / NOISE_TO_FIT),
        NOISE_KEPT: _bring(kept, to / NOISE_KEPT),
    }
    for number in range(COMPUTED):
        noise = computed_noise(
            COMPUTED_SECONDS * SAMPLE_RATE,
            random.Random(1000 + number),
            np.random.default_rng(1000 + number),
        )
        write_sound(to / NOISE_TO_FIT / f"computed-{number:03}.ogg", _as_loud(noise))
    return seconds


def _bring(paths: Iterable[Path], to: Path) -> float:
    seconds = 0.0
    for number, path in enumerate(paths):
        noise = read_noise(path)
        if noise is not None:
            write_sound(to / f"{number:03}.ogg", _as_loud(noise))
            seconds += len(noise) / SAMPLE_RATE
    return seconds


def read_noise(path: Path) -> Samples | None:
    """Read the sound of a file; none where it is nothing, or in a format of its own.

    Returns:
        Shape (n,), 16 kHz, of ``LONGEST`` seconds at most.
    """
    try:
        read, rate = soundfile.read(path, dtype="float32", always_2d=True, frames=MOST_FRAMES)
    except soundfile.LibsndfileError:
        return None
    noise = np.asarray(soxr.resample(read.mean(axis=1), rate, SAMPLE_RATE), dtype=np.float32)
    if len(noise) < SHORTEST * SAMPLE_RATE or np.sqrt((noise**2).mean()) < SOFTEST:
        return None
    begin = LEFT_OUT * SAMPLE_RATE if len(noise) > LONG * SAMPLE_RATE else 0
    return noise[begin : begin + LONGEST * SAMPLE_RATE]


def _as_loud(noise: Samples) -> Samples:
    return np.asarray(noise / np.abs(noise).max() * PEAK, dtype=np.float32)
