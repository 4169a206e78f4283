"""The clips of a session for a browser: the file, its length, its outline."""

from __future__ import annotations

import os
import re
from functools import lru_cache
from pathlib import Path

import numpy as np

from companion.errors import CompanionError
from companion.files.plain import open_inside, open_plain
from companion.files.sound_format import SAMPLE_RATE
from companion.log.clips import CLIP_FOLDER, clip_bytes, read_clip

CLIP_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,60}\.flac")
"""What a clip may be called: no path, nothing hidden."""

BARS = 64
"""Heights in the outline of a clip."""

_STREAM_INFO = 26
"""Bytes from the beginning of a FLAC file to the end of its total of samples (RFC 9639, 8.2)."""


def clip_file(folder: Path, name: str, sha256: str | None = None) -> Path:
    """Return the file of a clip, found to be as it was recorded.

    Args:
        folder: The session folder.
        name: Of the file in its folder of clips.
        sha256: As the log has it; None where it has none.

    Raises:
        CompanionError: If there is none of that name there, or another sound than was recorded;
            one that leads elsewhere is none.
    """
    path = folder / CLIP_FOLDER / name
    if CLIP_NAME.fullmatch(name) is None:
        raise CompanionError("There is no clip of that name; take it from a backup.")
    try:
        # Opened once as a check: a name that leads elsewhere, or is no file, is no clip.
        open_inside(folder, CLIP_FOLDER, name).close()
    except OSError:
        raise CompanionError(f"The clip {name} is not there; take it from a backup.") from None
    if sha256 is not None:
        clip_bytes(folder, f"{CLIP_FOLDER}/{name}", sha256)
    return path


def clip_seconds(folder: Path, clip: str) -> float | None:
    """Return how long a clip is, in seconds, from the head of its file; None where that cannot be
    told.

    Args:
        folder: The session folder.
        clip: Its path as a record names it.
    """
    name = clip.removeprefix(f"{CLIP_FOLDER}/")
    if CLIP_NAME.fullmatch(name) is None:
        return None
    try:
        if Path(folder, CLIP_FOLDER).is_symlink():
            return None
        return _seconds(f"{folder}{os.sep}{CLIP_FOLDER}{os.sep}{name}")
    except (OSError, ValueError):
        return None


@lru_cache(maxsize=20_000)
def _seconds(path: str) -> float:
    """Read the head of a file; what fails is tried again, since a clip may be brought back."""
    with open_plain(Path(path)) as clip:
        head = clip.read(_STREAM_INFO)
    packed = int.from_bytes(head[18:26], "big")
    rate, samples = packed >> 44, packed & (1 << 36) - 1
    if len(head) < _STREAM_INFO or head[:4] != b"fLaC" or not rate or not samples:
        raise ValueError("no FLAC file")
    return samples / rate


def outline(folder: Path, name: str, sha256: str | None = None) -> tuple[int, ...]:
    """Return how loud a clip is along its length: ``BARS`` heights, 0 to 100 of its loudest.

    Args:
        folder: The session folder.
        name: Of the clip's file.
        sha256: Of the file, as the log has it; None where an older log has none.

    Raises:
        CompanionError: If the clip is missing, damaged, or not the one that was recorded.
    """
    path = clip_file(folder, name, sha256)
    return _outline(folder, name, path.stat().st_mtime_ns, sha256)


@lru_cache(maxsize=2048)
def _outline(folder: Path, name: str, written: int, sha256: str | None) -> tuple[int, ...]:
    samples = read_clip(folder, f"{CLIP_FOLDER}/{name}", sha256)
    parts = np.array_split(np.abs(samples), BARS)
    heights = np.array([float(part.max()) if len(part) else 0.0 for part in parts])
    loudest = max(float(heights.max()), 1.0 / SAMPLE_RATE)
    return tuple(round(float(height)) for height in heights / loudest * 100)
