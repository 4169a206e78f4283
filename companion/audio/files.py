"""Sound files read as a microphone gives sound: mono, 16 kHz, a block at a time."""

from __future__ import annotations

import re
import stat
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from companion.audio.native_words import part_standard_error
from companion.audio.phone import CannotDecode, PhoneSound, decoder, kind_of, to_install
from companion.audio.resample import LOWEST_RATE, mono, resampled
from companion.errors import CompanionError
from companion.files.limits import HIGHEST_RATE, MOST_CHANNELS
from companion.files.plain import open_plain, stands_there
from companion.files.sound_format import SAMPLE_RATE

BLOCK_SECONDS = 1.0
"""Length of the blocks that ``stream_sound`` gives unless told otherwise, in seconds."""

_UNKNOWN_LENGTH = 0x7FFF_0000
"""Programs that write to a pipe put at least this length, in bytes, where they cannot know it."""
_SLOPPY_HEADER = 8
"""Some programs misjudge a length by a chunk's own head, in bytes: no sound is missing then."""
_PROMISE = re.compile(r":\s*(\d+) \(should be (\d+)\)")
_FRAME_PROMISE = re.compile(r"does not match value from 'ds64' chunk")

_LONGEST_SIGN = 16
"""Bytes by which the format of a file is known."""
_PERHAPS = {"ogg", "caf"}
"""Formats of which libsndfile reads only some files; ffmpeg may read the others."""


class SoundUnreadable(CompanionError):
    """A sound file cannot be used; the message names it and says why and what to do."""


class SoundStream:
    """A sound file, read once from start to end.

    Iterating yields blocks of shape (n,), float32, mono, -1 to 1, at ``SAMPLE_RATE``.

    Args:
        path: A file in any format that libsndfile reads (WAV, FLAC, Ogg, MP3, AIFF and others), or
            a phone's recording where ffmpeg is installed, with any number of channels and a rate
            of at least 8 kHz.
        block: About how many samples to yield at a time, at ``SAMPLE_RATE``.

    Attributes:
        rate: The file's own rate, in Hz.
        channels: The file's number of channels.
        truncated: The file holds less sound than its header promises; final once iteration has
            ended.

    Raises:
        SoundUnreadable: If the file is missing, empty, no sound, or too low in rate; also while
            iterating, if not a single sample can be read.
    """

    def __init__(self, path: Path | str, block: int = int(BLOCK_SECONDS * SAMPLE_RATE)) -> None:
        self.path = Path(path)
        self._block_seconds = block / SAMPLE_RATE
        self._file = _open(self.path)
        self.rate = int(self._file.samplerate)
        self.channels = int(self._file.channels)
        if self.rate < LOWEST_RATE:
            self._file.close()
            raise SoundUnreadable(
                f"The sound file {self.path} has {self.rate} samples a second; "
                f"record it at {LOWEST_RATE} or more."
            )
        if self.rate > HIGHEST_RATE or self.channels > MOST_CHANNELS:
            # A block of it would fill the memory.
            self._file.close()
            raise SoundUnreadable(
                f"The sound file {self.path} claims {self.rate} samples a second on "
                f"{self.channels} channels; record it at {HIGHEST_RATE} on {MOST_CHANNELS} at most."
            )
        self.truncated = _promises_more(self._file.extra_info)

    def __iter__(self) -> Iterator[NDArray[np.float32]]:
        some = False
        with self._file:
            for block in resampled(self._read(), self.rate):
                if len(block):
                    some = True
                    yield block
        if not some:
            # A few samples at a high rate are less than one sample at ours.
            raise self._no_sound()

    def _no_sound(self) -> SoundUnreadable:
        return SoundUnreadable(
            f"The sound file {self.path} has a header but no sound; record it again."
        )

    def _read(self) -> Iterator[NDArray[np.float32]]:
        promised = int(self._file.frames)
        read = 0
        while True:
            try:
                block = self._file.read(
                    max(1, int(self._block_seconds * self.rate)), dtype="float32", always_2d=True
                )
            except (soundfile.LibsndfileError, CannotDecode):
                # A compressed file cut off in mid-frame fails here; what came before stands.
                self.truncated = True
                break
            if len(block) == 0:
                if isinstance(self._file, PhoneSound):
                    self.truncated = self._file.troubled
                break
            read += len(block)
            yield mono(block)
        if read < promised < _UNKNOWN_LENGTH:
            self.truncated = True
        if read == 0:
            raise self._no_sound()


def stream_sound(
    path: Path | str, block: int = int(BLOCK_SECONDS * SAMPLE_RATE)
) -> Iterator[NDArray[np.float32]]:
    """Yield a file's sound in blocks of about ``block`` samples; see ``SoundStream``."""
    yield from SoundStream(path, block)


def read_sound(path: Path | str) -> NDArray[np.float32]:
    """Return the whole sound of a file, shape (n,), mono, -1 to 1, at ``SAMPLE_RATE``.

    Raises:
        SoundUnreadable: As ``SoundStream`` does.
    """
    return np.concatenate(list(SoundStream(path)))


def _open(path: Path) -> soundfile.SoundFile | PhoneSound:
    if not stands_there(path):
        raise SoundUnreadable(f"There is no sound file {path}; check the name.")
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            raise SoundUnreadable(f"{path} is not a file; name a sound file.")
        with open_plain(path, through_link=True) as raw:
            head = raw.read(_LONGEST_SIGN)
            if not head:
                raise SoundUnreadable(f"The sound file {path} is empty; record it again.")
    except OSError as error:
        raise SoundUnreadable(
            f"The sound file {path} cannot be read ({error.strerror}); check its permissions."
        ) from error
    kind = kind_of(head)
    if kind is not None and kind[0] not in _PERHAPS:
        return _decoded(path, *kind)
    # The MP3 decoder prints a warning of its own for every header that it does not recognize.
    part_standard_error()
    try:
        return soundfile.SoundFile(str(path))
    # TypeError: headerless formats, which soundfile knows by the ending of the name alone.
    except (soundfile.LibsndfileError, TypeError, MemoryError) as error:
        if kind is not None:
            return _decoded(path, *kind)
        raise SoundUnreadable(
            f"{path} is not a sound file that can be read, or its start is missing; "
            "use WAV, FLAC, Ogg or MP3."
        ) from error


def _decoded(path: Path, kind: str, words: str) -> PhoneSound:
    """A phone's recording, by ffmpeg."""
    program = decoder()
    if program is None:
        raise SoundUnreadable(
            f"{path} is {words}, which takes ffmpeg to be read; install it with '{to_install()}', "
            "or save the recording as WAV, FLAC, Ogg or MP3."
        )
    try:
        return PhoneSound(path, kind, program)
    except CannotDecode as error:
        raise SoundUnreadable(
            f"{path} is {words} that holds no sound that can be read, or its start or end is "
            "missing; send it once more from the phone, or record it again."
        ) from error


def _promises_more(header_log: str) -> bool:
    """Whether libsndfile found less than the header says; it goes on with what is there."""
    for promised, actual in _PROMISE.findall(header_log):
        if int(actual) + _SLOPPY_HEADER < int(promised) < _UNKNOWN_LENGTH:
            return True
    return bool(_FRAME_PROMISE.search(header_log))
