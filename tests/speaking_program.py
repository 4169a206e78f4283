"""The voice in a program of its own, with a file for a loudspeaker: it takes sound while the file
is there, and a file named ``stuck`` beside it makes it hang.

``python -m tests.speaking_program`` serves like ``companion.live.voice_program``; engine and voice
are the program's own.
"""

from __future__ import annotations

import ctypes
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from companion.audio.devices import SpeakerUnavailable
from companion.files.sound_format import SAMPLE_RATE
from companion.live.beside import serve
from companion.live.voice_program import Hush, Speaking

GONE = "The loudspeaker is gone; plug it in."


class File:
    """Stands where the ``Player`` does."""

    def __init__(self, speaking: Speaking, path: Path) -> None:
        self._speaking = speaking
        self._path = path
        self._look()

    def play(self, samples: NDArray[np.float32], rate: int = SAMPLE_RATE) -> bool:
        self._speaking.sounds(len(samples) / rate)
        self._look()
        if self._path.with_name("stuck").exists():
            ctypes.CDLL(None).pause()
        with self._path.open("a") as file:
            file.write(f"{len(samples) / rate:.2f}\n")
        return True

    def stop(self) -> None:
        self._path.with_name("hushed").touch()

    def _look(self) -> None:
        if not self._path.exists():
            raise SpeakerUnavailable(GONE)


class AtFile(Speaking):
    """Plays into the file that the settings name."""

    def _open(self, device: int | str | None) -> File:  # type: ignore[override]
        return File(self, Path(str(device)))


def main() -> None:
    """Serve the test that started it."""
    speaking = AtFile()

    def hushed(message: object) -> bool:
        if isinstance(message, Hush):
            speaking.hush()
        return isinstance(message, Hush)

    serve(speaking.answer, at_once=hushed)


if __name__ == "__main__":
    main()
