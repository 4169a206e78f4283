"""Real recordings to measure over: engines, tools, water, crowds and music, kept back from fitting.

They are sounds of Debian packages, which ``tools/fit_encoder/noises.py`` names with their licences:
every third sound of two of them, and two whole ones. The packages are read where they are installed
or unpacked; nothing of them is in the project.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from companion.errors import CompanionError
from tests.sounds import Samples
from tools.fit_encoder.noises import PACKAGES, read_noise, shared_out, sounds_of

INSTALLED = (Path("/"),)
"""Where packages are looked for."""


@dataclass(frozen=True, slots=True)
class Recording:
    """One sound.

    Attributes:
        package: That it is of.
        path: Its file.
    """

    package: str
    path: Path

    @property
    def name(self) -> str:
        """Of which there is one: "torcs-data/road-ride.wav"."""
        return f"{self.package}/{self.path.name}"


def kept_back(roots: Sequence[Path] = INSTALLED) -> tuple[Recording, ...]:
    """Find the recordings that nothing was fitted on.

    Args:
        roots: Where packages are installed (``/``) or unpacked (``dpkg-deb -x``).

    Raises:
        CompanionError: If a package is missing; says how to get it.
    """
    found = []
    for package in PACKAGES:
        if package.kept:
            _, kept = shared_out({package: sounds_of(package, roots)})
            found += [Recording(package.name, path) for path in kept]
    return tuple(one for one in found if _read(one.path) is not None)


def found(roots: Sequence[Path] = INSTALLED) -> tuple[tuple[Recording, ...], str]:
    """Find them, or say that there are none.

    Returns:
        The recordings and a sentence on what they are; none, and what to do about it, where a
        package is missing.
    """
    try:
        kept = kept_back(roots)
    except CompanionError as error:
        return (), f"Real recordings are left out. {error}"
    packages = ", ".join(f"{one.name} ({one.licence})" for one in PACKAGES if one.kept)
    return kept, f"Real recordings: {len(kept)} sounds, kept back from fitting, of {packages}."


def stretch(recording: Recording, count: int, draw: int) -> Samples:
    """Take a stretch out of a recording, from anywhere; a short one is repeated.

    Args:
        recording: Which.
        count: Samples, at 16 kHz.
        draw: Decides where it begins.
    """
    sound = _read(recording.path)
    assert sound is not None, "kept_back gives only what can be read"
    begin = int(np.random.default_rng(draw).integers(max(1, len(sound))))
    if len(sound) > count:
        begin = min(begin, len(sound) - count)
    return np.resize(np.roll(sound, -begin), count)


@lru_cache(maxsize=80)
def _read(path: Path) -> Samples | None:
    return read_noise(path)
