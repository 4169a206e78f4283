"""Photos of a job, kept beside the log; each record that names one has its SHA-256."""

from __future__ import annotations

import hashlib
from datetime import datetime
from pathlib import Path, PurePosixPath

from companion.errors import CompanionError, WrongUse
from companion.files.disk import write_new
from companion.files.quoting import quoted
from companion.job.events import PhotoAdded, StepEntered
from companion.job.record import Record
from companion.job.state import State
from companion.log.followed import state_of
from companion.log.pictures import Picture, clean_picture, picture_bytes, shown_name
from companion.log.reader import read_log
from companion.log.writer import LogWriter

PHOTO_FOLDER = "photos"
"""Folder of the photos inside a session folder."""

LONGEST_NAME = 80
"""Letters kept of who added a photo."""


def add_photo(
    folder: Path,
    picture: bytes | Path,
    *,
    step: str | None = None,
    by: str = "",
    at: datetime,
    name: str = "",
) -> PhotoAdded:
    """Copy a picture beside the log and record it.

    The copy is upright and holds nothing but what is seen: no place where it was taken.

    Args:
        folder: The session folder.
        picture: Its file, or what is in it.
        step: The step at which it was taken, by its name or number; None for the one that was
            current when the camera took it, or else now.
        by: Who adds it, or empty.
        at: Now, with the offset from UTC.
        name: Of the file that the bytes were in, for the sentence that says what is wrong.

    Returns:
        What was recorded.

    Raises:
        WrongUse: If the card has no such step.
        CompanionError: If it is no picture that can be kept, the log cannot be used, or the disk
            refuses; nothing is then recorded and nothing left behind.
    """
    if isinstance(picture, Path):
        data, name = picture_bytes(picture), shown_name(picture)
    else:
        data, name = picture, shown_name(PurePosixPath(name)) or "The picture"
    # A camera's time mostly has no offset: then the shop's is taken.
    clean = clean_picture(data, name, read_log(folder).records[0].at.tzinfo)
    # The log is held only now, so that a bench at work in this session does not wait for the
    # picture.
    with LogWriter.beside(folder) as writer, writer.turn():
        records = read_log(folder).records
        state = state_of(folder, records)
        named = _step_at(records, state, clean.taken) if step is None else _step(state, step)
        path = _keep(folder, writer.next_seq, clean)
        event = PhotoAdded(
            file=f"{PHOTO_FOLDER}/{path.name}",
            sha256=hashlib.sha256(clean.data).hexdigest(),
            step=named,
            taken=clean.taken,
            by=" ".join(by.split())[:LONGEST_NAME],
        )
        try:
            writer.append([event], at)
        except BaseException:
            path.unlink(missing_ok=True)
            raise
    return event


def photo_bytes(folder: Path, photo: PhotoAdded) -> bytes:
    """Return a photo's file as it was added.

    Raises:
        CompanionError: If it is missing, was changed, or lies outside the session folder.
    """
    parts = PurePosixPath(photo.file).parts
    odd = "\\" in photo.file or "\0" in photo.file or ".." in parts
    linked = (folder / PHOTO_FOLDER).is_symlink()
    if len(parts) != 2 or parts[0] != PHOTO_FOLDER or odd or linked:
        raise CompanionError(
            f"The photo {quoted(ascii(photo.file))} lies outside the session; it is left alone."
        )
    try:
        data = picture_bytes(folder / PHOTO_FOLDER / parts[1])
    except CompanionError:
        raise CompanionError(
            f"The photo {photo.file} is missing or cannot be read; take it from a backup."
        ) from None
    if hashlib.sha256(data).hexdigest() != photo.sha256:
        raise CompanionError(
            f"The photo {photo.file} was changed since it was added; take it from a backup."
        )
    return data


def _step(state: State, named: str) -> str:
    """The step of the card that is meant."""
    if state.card is None:
        raise WrongUse("The job has no card, so it has no steps; leave the step out.")
    wanted = "-".join(named.lower().split())
    names = [step.name for step in state.card.step]
    if wanted.isdecimal() and 1 <= int(wanted) <= len(names):
        return names[int(wanted) - 1]
    if wanted in names:
        return wanted
    raise WrongUse(
        f"The card has no step '{shown_name(Path(named))}'; its steps are {', '.join(names)}."
    )


def _step_at(records: tuple[Record, ...], state: State, taken: datetime | None) -> str | None:
    """The step that was current when the camera took the picture; where it does not say, or says a
    time before the job or after it, the one that is current now."""
    if taken is not None and records[0].at <= taken <= records[-1].at:
        entered = [
            record.event.step
            for record in records
            if isinstance(record.event, StepEntered) and record.at <= taken
        ]
        return entered[-1] if entered else None
    return None if state.closed else state.step


def _keep(folder: Path, number: int, picture: Picture) -> Path:
    """Write the file, never over one that is there, and return once it is on the disk."""
    photos = folder / PHOTO_FOLDER
    if photos.is_symlink():
        raise CompanionError(f"{photos} is a link; put a folder of its own in its place.")
    try:
        return write_new(photos, f"{number:04d}", picture.suffix, picture.data)
    except OSError as error:
        raise CompanionError(
            f"The photo cannot be written to {photos} ({error.strerror}); free some space on the "
            "disk or make the folder writable, then add it again."
        ) from None
