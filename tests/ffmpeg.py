"""The decoder that clips and recordings are held against: ffmpeg, as ``imageio-ffmpeg`` brings it.

It decodes by itself, and shares no library with what the program reads sound with.
"""

from __future__ import annotations

import os
import subprocess
from pathlib import Path
from shutil import which

from imageio_ffmpeg import get_ffmpeg_exe


def ffmpeg(*arguments: str | Path, sound: bytes = b"") -> bytes:
    """Run ffmpeg and give back what it wrote to its standard output.

    Args:
        arguments: What to read and what to write; "-" is a standard stream.
        sound: What stands on its standard input.

    Raises:
        subprocess.CalledProcessError: If it could not.
    """
    command = [get_ffmpeg_exe(), "-v", "error", *arguments]
    return subprocess.run(command, input=sound, check=True, capture_output=True).stdout


def path_with_ffmpeg(folder: Path) -> str:
    """``PATH``, with ffmpeg on it even where the system has none.

    Args:
        folder: Where a link to it may be laid.
    """
    path = os.environ["PATH"]
    if which("ffmpeg") is not None:
        return path
    (folder / "ffmpeg").symlink_to(get_ffmpeg_exe())
    return f"{path}{os.pathsep}{folder}"
