"""The file of a log, opened, locked and mended at its end."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from pathlib import Path

from companion.errors import CompanionError
from companion.files.data import data_folder
from companion.files.disk import (
    lock_for_writing,
    open_own,
    read_at,
    sync_file,
    sync_folder,
    unlock,
    write_all,
    write_once,
)
from companion.files.own import keep_session_private, keep_shop_private
from companion.log.cannot_record import busy
from companion.log.clips import CLIP_FOLDER
from companion.log.in_use import LIVE_NAME
from companion.log.line import LOG_NAME
from companion.log.live_status import STATUS_NAME
from companion.log.lost import was_deleted, was_moved
from companion.log.reader import (
    TORN_NAME,
    torn_files,
)
from companion.log.scan import Scan
from companion.log.tip import TIP_NAME

PATIENCE_SECONDS = 5.0
"""How long a turn is waited for; another program has the log for some milliseconds at a time."""


@contextlib.contextmanager
def locked(folder: Path, flags: int = 0, patience: float = PATIENCE_SECONDS) -> Iterator[int]:
    """Open the log for reading and writing, and have it alone until the block ends; it is left
    open, unless the block fails.

    Args:
        folder: The session folder.
        flags: For ``os.open``, besides those for reading and writing.
        patience: Seconds to wait for another program that has it.

    Raises:
        LogBusy: If another program has it all that time.
        OSError: If it cannot be opened.
    """
    descriptor = open_own(folder / LOG_NAME, os.O_RDWR | flags)
    try:
        if not lock_for_writing(descriptor, patience):
            raise busy(folder)
        yield descriptor
        unlock(descriptor)
    except BaseException:
        os.close(descriptor)
        raise


def close_to_others(folder: Path) -> None:
    """Let nobody but the owner read the session and the shop's data folder."""
    keep_session_private(folder)
    keep_shop_private(data_folder())


def refuse_foreign(folder: Path) -> None:
    """Leave a folder alone in which files stand that are called like ours and are none.

    Raises:
        CompanionError: If it is such a one, or cannot be written down by its name.
    """
    try:
        str(folder).encode()
    except UnicodeEncodeError:
        raise CompanionError(
            f"{folder} is no name that can be written down; name another folder."
        ) from None
    if os.path.lexists(folder / LIVE_NAME):
        # A session was begun here; whether it has a record is looked at next.
        return
    for name in (LOG_NAME, TIP_NAME, STATUS_NAME):
        path = folder / name
        if os.path.lexists(path) and (path.is_symlink() or path.stat().st_size):
            raise CompanionError(
                f"{folder} already holds a log, or what is called like one ({name}); go on with "
                "'companion resume', or name another folder."
            )


def mend_end(folder: Path, descriptor: int, found: Scan) -> int:
    """Set a torn line aside or add a lacking line feed.

    Args:
        folder: The session folder.
        descriptor: Of the log, which is locked.
        found: What was read of it.

    Returns:
        Where the log then ends, in bytes.

    Raises:
        OSError: If it cannot be written.
    """
    if found.torn:
        set_aside(folder, found.torn)
        os.ftruncate(descriptor, found.end)
        sync_file(descriptor)
    if found.unended:
        os.lseek(descriptor, found.end, os.SEEK_SET)
        write_all(descriptor, b"\n")
        sync_file(descriptor)
    return found.end + (1 if found.unended else 0)


def length_of_last(descriptor: int, end: int) -> int:
    """Return the bytes of the line that ends at ``end``, with its line feed."""
    length = 1 << 16
    while True:
        begin = max(0, end - length)
        feed = read_at(descriptor, begin, end - 1 - begin).rfind(b"\n")
        if feed >= 0 or begin == 0:
            return end - (begin + feed + 1 if feed >= 0 else 0)
        length *= 16


def set_aside(folder: Path, torn: bytes) -> None:
    """Keep a torn line in a file of its own, ``log.torn-1`` or the next.

    Raises:
        OSError: If it cannot be written.
    """
    kept = torn_files(folder)
    number = 1 + (int(kept[-1].removeprefix(TORN_NAME)) if kept else 0)
    write_once(folder / f"{TORN_NAME}{number}", torn)
    sync_folder(folder)


def place_of(folder: Path) -> int | None:
    """Return a descriptor of the folder itself, which it keeps when it is moved; None where the
    system has none for folders."""
    if not hasattr(os, "O_DIRECTORY") or os.open not in os.supports_dir_fd:
        return None
    with contextlib.suppress(OSError):
        return os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    return None


def sync_new(folder: Path, descriptor: int) -> None:
    """Sync a log that was just made, with every folder that it stands in.

    Args:
        folder: The session folder.
        descriptor: Of the log.

    Raises:
        OSError: If it cannot be had there.
    """
    sync_file(descriptor)
    sync_folder(folder)
    sync_folder(folder.parent)
    # A program that was killed may have made the folders above and not synced them.
    for above in Path(os.path.abspath(folder)).parents[1:]:
        with contextlib.suppress(OSError):
            sync_folder(above)


def remove_begun(folder: Path, descriptor: int) -> None:
    """Remove what was made for a log that came to no record, unless it is another one by now.

    Args:
        folder: The session folder.
        descriptor: Of the log.
    """
    with contextlib.suppress(OSError):
        ours = os.fstat(descriptor)
        if not ours.st_size and os.path.samestat(ours, os.lstat(folder / LOG_NAME)):
            (folder / LOG_NAME).unlink()
            (folder / LIVE_NAME).unlink()
            (folder / CLIP_FOLDER).rmdir()
            folder.rmdir()


def require_still_there(folder: Path, descriptor: int) -> None:
    """Refuse to go on with a log that is not the file of its name any more.

    Args:
        folder: The session folder.
        descriptor: Of the log, as it was opened.

    Raises:
        LogLost: If it was deleted, moved or replaced.
        OSError: If it cannot be looked at.
    """
    opened = os.fstat(descriptor)
    try:
        named = os.stat(folder / LOG_NAME)
    except FileNotFoundError:
        named = None
    if named is None and opened.st_nlink == 0:
        raise was_deleted(folder)
    if named is None or not os.path.samestat(named, opened):
        raise was_moved(folder)
