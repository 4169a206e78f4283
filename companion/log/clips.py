"""The sound of what was heard, kept beside the log as FLAC: lossless, and browsers play it."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

import numpy as np
from numpy.typing import NDArray

from companion.errors import CompanionError
from companion.files.disk import write_new
from companion.files.limits import LONGEST_CLIP
from companion.files.plain import bytes_inside
from companion.files.quoting import quoted
from companion.files.sound_format import SAMPLE_RATE
from companion.job.events import Heard, NoteKept
from companion.job.record import Record
from companion.log.lost import cannot_write
from companion.log.removed import removed_clips

CLIP_FOLDER = "audio"
"""Folder of the clips inside a session folder."""

MOST_CLIP_BYTES = 64 * 2**20
"""Bytes of one clip: 64 MiB, half an hour of sound without any packing."""

HEAD_BYTES = 42
"""The mark, the head of the first block, and the block (RFC 9639, sections 6 and 8)."""

NOT_MONO = "is not 16 kHz mono"
"""Says that a file is no sound of this program."""


@dataclass(frozen=True, slots=True)
class Clip:
    """A clip that was kept.

    Attributes:
        path: Inside the session folder, such as ``audio/0007.flac``.
        sha256: Of the bytes that were written, in lower-case hex; None where it was kept before
            that was.
    """

    path: str
    sha256: str | None


def keep_clip(folder: Path, number: int, samples: NDArray[np.float32]) -> Clip:
    """Write a clip, never over one that is there, and return once it is on the disk.

    Args:
        folder: The session folder.
        number: Of the record that will name the clip.
        samples: Shape (n,), mono, -1 to 1 (louder is clipped), at 16 kHz.

    Raises:
        CompanionError: If it cannot be written; nothing is left half written.
    """
    import soundfile

    sound = np.clip(np.nan_to_num(samples.astype(np.float32)), -1.0, 1.0)
    encoded = io.BytesIO()
    soundfile.write(encoded, sound, SAMPLE_RATE, format="FLAC", subtype="PCM_16")
    audio = folder / CLIP_FOLDER
    try:
        data = encoded.getvalue()
        path = write_new(audio, f"{number:04d}", ".flac", data)
    except OSError as error:
        raise cannot_write(
            f"The sound clip cannot be written to {audio} ({error.strerror}); free some space on "
            "the disk or make the folder writable, then go on with 'companion resume'.",
            error,
        ) from None
    return Clip(f"{CLIP_FOLDER}/{path.name}", hashlib.sha256(data).hexdigest())


def read_clip(folder: Path, clip: str, sha256: str | None = None) -> NDArray[np.float32]:
    """Return a clip's samples: shape (n,), mono, -1 to 1, at 16 kHz.

    Args:
        folder: The session folder.
        clip: Its path as a record names it.
        sha256: As the record has it; None in logs from before it was kept.

    Raises:
        CompanionError: If it is missing, is no sound, is not the one that was recorded, or lies
            outside the session folder.
    """
    import soundfile

    data = clip_bytes(folder, clip, sha256)
    try:
        with soundfile.SoundFile(io.BytesIO(data)) as file:
            if file.samplerate != SAMPLE_RATE or file.channels != 1:
                raise CompanionError(f"The clip {clip} is not 16 kHz mono; take it from a backup.")
            # The head may claim any length, and the library allocates memory for all of it before
            # it reads.
            if file.frames > LONGEST_CLIP:
                raise CompanionError(
                    f"The clip {clip} claims to be longer than an hour, which none is; take it "
                    "from a backup."
                )
            sound: NDArray[np.float32] = file.read(dtype="float32")
    except (soundfile.SoundFileError, RuntimeError, TypeError, ValueError, MemoryError):
        raise CompanionError(f"The clip {clip} is damaged; take it from a backup.") from None
    return sound


def clip_bytes(folder: Path, clip: str, sha256: str | None = None) -> bytes:
    """Return a clip's file as it was written.

    Args:
        folder: The session folder.
        clip: Its path as a record names it.
        sha256: As the record has it; None in logs from before it was kept, where nobody can tell
            whether it was changed.

    Raises:
        CompanionError: If it is missing, was changed, was removed by age, or lies outside the
            session folder.
    """
    parts = PurePosixPath(clip).parts
    if len(parts) != 2 or parts[0] != CLIP_FOLDER or ".." in parts or "\\" in clip or "\0" in clip:
        raise CompanionError(
            f"The clip {quoted(ascii(clip))} lies outside the session; it is left alone."
        )
    try:
        data = bytes_inside(folder, CLIP_FOLDER, parts[1], MOST_CLIP_BYTES)
    except OSError as error:
        removed = removed_clips(folder).get(clip)
        if removed is not None and isinstance(error, FileNotFoundError):
            raise CompanionError(
                f"The clip {clip} was removed by age on {removed.day}; its words are kept."
            ) from None
        raise CompanionError(
            f"The clip {clip} cannot be read ({error.strerror}); take it from a backup."
        ) from None
    if sha256 is not None and hashlib.sha256(data).hexdigest() != sha256:
        raise CompanionError(
            f"The clip {clip} was changed since it was recorded; take it from a backup."
        )
    return data


def hashes_of_clips(records: Iterable[Record]) -> dict[str, str]:
    """Return the SHA-256 of each clip that the records have it of, by its path; where two say
    something else of one, the earlier counts."""
    found: dict[str, str] = {}
    for record in records:
        event = record.event
        # What class a model is of takes long to ask of a whole day.
        if not (type(event) is Heard or type(event) is NoteKept):
            continue
        if event.clip and event.clip_sha256:
            found.setdefault(event.clip, event.clip_sha256)
    return found


def why_no_clip(head: bytes) -> str | None:
    """Say why a file is no clip; None where it is one.

    A FLAC file may say that it unpacks to far more than memory holds; this reads only what it says.

    Args:
        head: Its first ``HEAD_BYTES`` bytes.
    """
    # The first block must be the one that describes the stream, 34 bytes long.
    if len(head) < HEAD_BYTES or head[:4] != b"fLaC" or head[4] & 0x7F or head[5:8] != b"\0\0\x22":
        return "is no FLAC file"
    described = int.from_bytes(head[18:26], "big")
    rate, channels = described >> 44, (described >> 41 & 0x7) + 1
    samples = described & (1 << 36) - 1
    if rate != SAMPLE_RATE or channels != 1:
        return NOT_MONO
    if not 0 < samples <= LONGEST_CLIP:
        return "does not say its length, or is longer than an hour"
    return None
