"""The photos of a session on its page: beside the step they were taken at, and whole at a click."""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from pathlib import Path, PurePosixPath

from companion.errors import CompanionError
from companion.files.plain import is_plain
from companion.job import events as ev
from companion.job.record import Record
from companion.job.state import State
from companion.log.photos import photo_bytes
from companion.log.pictures import small_jpeg

SMALL = 480
"""Points of the longer side of a photo on the page: sharp at 240 pixels on a good screen."""

KINDS = {".jpg": "image/jpeg", ".jpeg": "image/jpeg", ".png": "image/png", ".webp": "image/webp"}
"""By suffix, what a photo is sent to a browser as; it never finds out by itself."""

_ONE_AT_A_TIME = threading.Lock()


@dataclass(frozen=True, slots=True)
class Photo:
    """A photo on the page.

    Attributes:
        seq: Number of its record.
        at: When it was taken, or else added.
        taken: Whether the camera says so.
        step: Name of the step that it was taken at, or None.
        by: Who added it, or empty.
        there: Whether its file is.
        file: Its path inside the session folder.
        gone: Why it does not count, with who says so; empty where it counts.
    """

    seq: int
    at: datetime
    taken: bool
    step: str | None
    by: str
    there: bool
    file: str
    gone: str

    @property
    def of(self) -> str:
        """What it shows, for whoever does not see it."""
        return f"Photo at step {self.step.replace('-', ' ')}" if self.step else "Photo of the job"


def photo_on_page(folder: Path, record: Record, state: State) -> Photo:
    """Return a photo as the page shows it.

    Args:
        folder: The session folder.
        record: That of the photo.
        state: The fold of the log.
    """
    event = record.event
    assert isinstance(event, ev.PhotoAdded), "it is the record of a photo"
    gone = ""
    if record.seq in state.superseded:
        review = next((r for r in reversed(state.reviews) if r.event.record == record.seq), None)
        moved = any(
            fact.seq > record.seq and fact.event.file == event.file for fact in state.photos
        )
        gone = "moved" if moved else "set aside"
        if review is not None:
            gone += f" by {review.event.by}" + (f": {review.event.why}" if review.event.why else "")
    return Photo(
        seq=record.seq,
        at=event.taken or record.at,
        taken=event.taken is not None,
        step=event.step,
        by=event.by,
        there=is_plain(folder / event.file),
        file=event.file,
        gone=gone,
    )


def homes_of(records: Sequence[Record]) -> Mapping[int, int]:
    """Return, by number of the record of a photo and of what was said of it afterwards, that of the
    record that it is shown with: the one by which its step was entered when it was taken, or else
    the photo's own."""
    entered: dict[str, list[Record]] = {}
    homes: dict[int, int] = {}
    for record in records:
        event = record.event
        if isinstance(event, ev.StepEntered):
            entered.setdefault(event.step, []).append(record)
        elif isinstance(event, ev.PhotoAdded):
            there = entered.get(event.step or "", [])
            then = [each for each in there if event.taken is None or each.at <= event.taken]
            homes[record.seq] = (then or there[:1] or [record])[-1].seq
        elif isinstance(event, ev.Disregarded | ev.Reviewed) and event.record in homes:
            homes[record.seq] = homes[event.record]
    return homes


def photo_of(records: Sequence[Record], seq: int) -> ev.PhotoAdded | None:
    """Return the photo that a record names; None where it names none."""
    event = records[seq - 1].event if 1 <= seq <= len(records) else None
    return event if isinstance(event, ev.PhotoAdded) else None


def photo_file(folder: Path, photo: ev.PhotoAdded, *, small: bool) -> tuple[bytes, str]:
    """Return a photo for a browser, and what it is.

    Args:
        folder: The session folder.
        photo: As a record of its log names it.
        small: Whether as it stands on the page, or whole.

    Raises:
        CompanionError: If it is missing, was changed, lies outside the session's photos, or is no
            picture.
    """
    kind = KINDS.get(PurePosixPath(photo.file).suffix.lower())
    if kind is None:
        raise CompanionError(f"{photo.file[:80]!r} is no photo that is shown.")
    if not small:
        return photo_bytes(folder, photo), kind
    # One at a time: a large photo takes much memory while it is decoded.
    with _ONE_AT_A_TIME:
        return _small(folder, photo.file, photo.sha256), "image/jpeg"


@lru_cache(maxsize=400)
def _small(folder: Path, file: str, sha256: str) -> bytes:
    data = photo_bytes(folder, ev.PhotoAdded(file=file, sha256=sha256))
    return small_jpeg(data, f"The photo {file}", SMALL)[0]
