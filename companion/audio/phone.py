"""Recordings as phones keep them (M4A, AAC, 3GP, AMR, WebM, WMA), decoded by ffmpeg where it is.

Files that libsndfile cannot read are recognized by their first bytes, and ffmpeg is given the
format: if it guessed, it would take a text for a list of other files to open. It may use only files
and pipes, one thread, and limited memory and time.
"""

from __future__ import annotations

import os
import selectors
import shutil
import struct
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryFile
from typing import IO, Any

import numpy as np
from numpy.typing import NDArray

from companion.files.limits import (
    LONGEST_RECORDING,
    LONGEST_TO_DECODE,
    LONGEST_WAIT_FOR_SOUND,
    MOST_TO_DECODE_IN,
)

_BEGINS: tuple[tuple[int, bytes, str, str], ...] = (
    (4, b"ftyp", "mov", "an M4A, MP4 or 3GP recording"),
    (0, b"#!AMR", "amr", "an AMR recording"),
    (0, b"\x1a\x45\xdf\xa3", "matroska", "a WebM or Matroska recording"),
    (0, bytes.fromhex("3026b2758e66cf11"), "asf", "a WMA recording"),
    (0, b"caff", "caf", "a CAF recording"),
    (0, b"OggS", "ogg", "an Ogg recording"),
)
"""Of each format: the place of its mark in the file, the bytes of the mark, ffmpeg's name for it,
and its name in words."""

_HEAD = 44
"""Bytes of the head of a WAV file with 16-bit samples."""

_WAYS = {"darwin": "brew install ffmpeg", "win32": "winget install ffmpeg"}


def kind_of(head: bytes) -> tuple[str, str] | None:
    """Tell by how a file begins what kind of recording it is.

    Args:
        head: Its first 16 bytes at least.

    Returns:
        The format for ffmpeg and its name in words; None where it is of no kind known here.
    """
    # ADTS: twelve bits set, then the layer, which of MPEG audio only AAC has as 0.
    if len(head) > 1 and head[0] == 0xFF and head[1] & 0xF6 == 0xF0:
        return "aac", "an AAC recording"
    for place, sign, kind, words in _BEGINS:
        if head[place : place + len(sign)] == sign:
            return kind, words
    return None


def decoder() -> str | None:
    """The whole path of ffmpeg; None where there is none."""
    return shutil.which("ffmpeg")


def to_install() -> str:
    """The command that installs ffmpeg on this system."""
    return _WAYS.get(sys.platform, "sudo apt-get install ffmpeg")


class CannotDecode(Exception):
    """ffmpeg found no sound in a file, or took too long over it."""


class PhoneSound:
    """A recording while ffmpeg decodes it; read like a ``soundfile.SoundFile``.

    Args:
        path: The file.
        kind: Its format, from ``kind_of``.
        program: ffmpeg.

    Attributes:
        samplerate: In Hz.
        channels: Always 1: what has more is mixed down.
        frames: Always 0: it is not known before the end.
        extra_info: Always empty.
        troubled: Whether ffmpeg told of a fault in the file, as that its end is missing; final at
            the end.

    Raises:
        CannotDecode: If there is no sound in it.
    """

    channels = 1
    frames = 0
    extra_info = ""

    def __init__(self, path: Path, kind: str, program: str) -> None:
        self.troubled = False
        # Its messages go to a file: a pipe that nobody reads would fill up and stop it.
        self._told: IO[bytes] = TemporaryFile()  # noqa: SIM115 (as long as it decodes)
        self._running = subprocess.Popen(
            [
                *(program, "-nostdin", "-hide_banner", "-v", "error"),
                *("-max_alloc", str(MOST_TO_DECODE_IN), "-timelimit", str(LONGEST_TO_DECODE)),
                *("-threads", "1", "-protocol_whitelist", "file,pipe", "-f", kind),
                *("-i", f"file:{path.absolute()}", "-map", "0:a:0"),
                *("-t", str(LONGEST_RECORDING), "-ac", "1", "-c:a", "pcm_s16le"),
                *("-bitexact", "-f", "wav", "pipe:1"),
            ],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=self._told,
        )
        try:
            head = self._bytes(_HEAD)
            if len(head) < _HEAD or head[:4] != b"RIFF":
                raise CannotDecode
        except BaseException:
            self.close()
            raise
        (self.samplerate,) = struct.unpack_from("<I", head, 24)

    def read(self, frames: int, **_: Any) -> NDArray[np.float32]:
        """Return up to so many samples, shape (n, 1), -1 to 1; none at the end.

        Raises:
            CannotDecode: If ffmpeg gives nothing more for too long.
        """
        data = self._bytes(2 * frames)
        if not data:
            self.troubled = self._running.wait() != 0 or self._told.tell() > 0
        samples = np.frombuffer(data[: len(data) // 2 * 2], "<i2").astype(np.float32)
        return (samples / np.float32(32768)).reshape(-1, 1)

    def close(self) -> None:
        """End the decoding."""
        if self._running.poll() is None:
            self._running.kill()
        self._running.wait()
        assert self._running.stdout is not None
        self._running.stdout.close()
        self._told.close()

    def __enter__(self) -> PhoneSound:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _bytes(self, count: int) -> bytes:
        """So many bytes, fewer only at the end."""
        stream = self._running.stdout
        assert stream is not None
        found = bytearray()
        with selectors.DefaultSelector() as waiting:
            waiting.register(stream, selectors.EVENT_READ)
            while len(found) < count:
                if not waiting.select(LONGEST_WAIT_FOR_SOUND):
                    raise CannotDecode
                piece = os.read(stream.fileno(), count - len(found))
                if not piece:
                    break
                found += piece
        return bytes(found)
