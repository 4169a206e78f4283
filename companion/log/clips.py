"""The sound of what was heard, kept beside the log as FLAC: lossless, and browsers play it."""

from __future__ import annotations

import io
from pathlib import Path, PurePosixPath

import numpy as np
from numpy.typing import NDArray

from companion.errors import CompanionError
from companion.files.disk import write_new
from companion.files.limits import LONGEST_CLIP
from companion.files.plain import bytes_inside
from companion.log.removed import removed_clips

SAMPLE_RATE = 16_000
"""Samples per second of every clip, in Hz."""

CLIP_FOLDER = "audio"
"""Folder of the clips inside a session folder."""

MOST_CLIP_BYTES = 64 * 2**20
"""Bytes of one clip: 64 MiB, half an hour of sound without any packing."""


def keep_clip(folder: Path, number: int, samples: NDArray[np.float32]) -> str:
    """Write a clip, never over one that is there, and return once it is on the disk.

    Args:
        folder: The session folder.
        number: Of the record that will name the clip.
        samples: Shape (n,), mono, -1 to 1 (louder is clipped), at 16 kHz.

    Returns:
        Its path inside the session folder, such as ``audio/0007.flac``.

    Raises:
        CompanionError: If it cannot be written; nothing is left half written.
    """
    import soundfile

    sound = np.clip(np.nan_to_num(samples.astype(np.float32)), -1.0, 1.0)
    encoded = io.BytesIO()
    soundfile.write(encoded, sound, SAMPLE_RATE, format="FLAC", subtype="PCM_16")
    audio = folder / CLIP_FOLDER
    try:
        path = write_new(audio, f"{number:04d}", ".flac", encoded.getvalue())
    except OSError as error:
        raise CompanionError(
            f"The sound clip cannot be written to {audio} ({error.strerror}); free some space on "
            "the disk or make the folder writable, then go on with 'companion resume'."
        ) from None
    return f"{CLIP_FOLDER}/{path.name}"


def read_clip(folder: Path, clip: str) -> NDArray[np.float32]:
    """Return a clip's samples: shape (n,), mono, -1 to 1, at 16 kHz.

    Args:
        folder: The session folder.
        clip: Its path as a record names it.

    Raises:
        CompanionError: If it is missing, is no sound, or lies outside the session folder.
    """
    import soundfile

    try:
        with soundfile.SoundFile(io.BytesIO(clip_bytes(folder, clip))) as file:
            if file.samplerate != SAMPLE_RATE or file.channels != 1:
                raise CompanionError(f"The clip {clip} is not 16 kHz mono; take it from a backup.")
            # A head may claim any length, and memory is taken for all of it before a byte is read.
            if file.frames > LONGEST_CLIP:
                raise CompanionError(
                    f"The clip {clip} claims to be longer than an hour, which none is; take it "
                    "from a backup."
                )
            sound: NDArray[np.float32] = file.read(dtype="float32")
    except (soundfile.SoundFileError, RuntimeError, TypeError, ValueError, MemoryError):
        raise CompanionError(f"The clip {clip} is damaged; take it from a backup.") from None
    return sound


def clip_bytes(folder: Path, clip: str) -> bytes:
    """Return a clip's file as it is.

    Raises:
        CompanionError: If it is missing, was removed by age, or lies outside the session folder.
    """
    parts = PurePosixPath(clip).parts
    if len(parts) != 2 or parts[0] != CLIP_FOLDER or ".." in parts or "\\" in clip or "\0" in clip:
        raise CompanionError(f"The clip {clip[:80]!r} lies outside the session; it is left alone.")
    try:
        return bytes_inside(folder, CLIP_FOLDER, parts[1], MOST_CLIP_BYTES)
    except OSError as error:
        removed = removed_clips(folder).get(clip)
        if removed is not None and isinstance(error, FileNotFoundError):
            raise CompanionError(
                f"The clip {clip} was removed by age on {removed}; its words are kept."
            ) from None
        raise CompanionError(
            f"The clip {clip} cannot be read ({error.strerror}); take it from a backup."
        ) from None
