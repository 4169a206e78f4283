"""Removing clips because they are old; the log itself is left as it is."""

from __future__ import annotations

import errno
import hashlib
import json
import os
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from companion.errors import CompanionError
from companion.files.disk import open_own, sync_file, sync_folder, write_all
from companion.job.events import Heard, NoteKept
from companion.log.clips import CLIP_FOLDER, clip_bytes, hashes_of_clips
from companion.log.followed import follows, state_of
from companion.log.line import rfc3339
from companion.log.reader import read_log
from companion.log.removed import REMOVED_NAME


@dataclass(frozen=True, slots=True)
class OldClips:
    """Clips of one session that may go.

    Attributes:
        folder: The session folder.
        clips: Their paths inside it, in the order in which they were heard.
        size: Bytes of all of them.
        kept: How many as old ones stay, because they are spoken notes that nobody has confirmed.
    """

    folder: Path
    clips: tuple[str, ...]
    size: int
    kept: int


@follows
def old_clips(folder: Path, before: datetime) -> OldClips:
    """Return the clips of a session that were heard before a time and are still there.

    A spoken note whose words nobody has confirmed keeps its sound: it may be all there is of it. A
    clip that is not as it was recorded stays too: once it is removed, nobody could tell.

    Args:
        folder: The session folder.
        before: Only what was heard earlier.

    Raises:
        CompanionError: As ``read_log``.
    """
    records = read_log(folder).records
    state = state_of(folder, records)
    unread = {
        fact.event.clip
        for fact in state.effective(state.notes)
        if fact.event.clip is not None and (fact.event.draft or fact.event.text is None)
    }
    hashes = hashes_of_clips(records)
    found: dict[str, int] = {}
    kept: set[str] = set()
    for record in records:
        event = record.event
        if not isinstance(event, Heard | NoteKept) or event.clip is None or record.at >= before:
            continue
        try:
            size = len(clip_bytes(folder, event.clip, hashes.get(event.clip)))
        except CompanionError:
            # Gone already, changed, or no clip of this session at all.
            continue
        if event.clip in unread:
            kept.add(event.clip)
        else:
            found[event.clip] = size
    return OldClips(folder, tuple(found), sum(found.values()), len(kept))


def remove_clips(old: OldClips, at: datetime) -> None:
    """Remove clips, and keep which they were.

    Args:
        old: From ``old_clips``.
        at: When, with its offset from UTC.

    Raises:
        CompanionError: If they cannot be removed; what is gone by then is listed.
    """
    path = old.folder / REMOVED_NAME
    try:
        lines = b"".join(
            json.dumps(
                {
                    "clip": clip,
                    "at": rfc3339(at),
                    "sha256": hashlib.sha256(clip_bytes(old.folder, clip)).hexdigest(),
                }
            ).encode()
            + b"\n"
            for clip in old.clips
        )
        if (old.folder / CLIP_FOLDER).is_symlink():
            raise OSError(errno.ELOOP, f"{CLIP_FOLDER} is a link")
        descriptor = open_own(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
        try:
            # The rest of a line that was cut short must not swallow these.
            write_all(descriptor, b"\n" + lines)
            sync_file(descriptor)
        finally:
            os.close(descriptor)
        sync_folder(old.folder)
        for clip in old.clips:
            (old.folder / clip).unlink(missing_ok=True)
    except OSError as error:
        raise CompanionError(
            f"The clips of {old.folder} cannot be removed ({error.strerror}); make the folder "
            "writable and try again. The log is whole."
        ) from None
