"""What the log asks of the system: bytes on the disk, and one program writing at a time."""

from __future__ import annotations

import errno
import os
import sys
import time
from pathlib import Path

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

LOCK_OFFSET = 1 << 40
"""Byte that is locked on Windows: far past any log, because a lock there also keeps readers out."""

LOOK_AGAIN_SECONDS = 0.002
"""How long whoever waits for a lock sleeps between two tries: an append takes about as long."""


def sync_file(descriptor: int) -> None:
    """Return once everything written to an open file is on the disk.

    Raises:
        OSError: If the disk refuses.
    """
    if sys.platform == "darwin":
        # On macOS fsync stops at the drive's own cache.
        fcntl.fcntl(descriptor, fcntl.F_FULLFSYNC)
    else:
        os.fsync(descriptor)


def sync_folder(folder: Path) -> None:
    """Return once the names in a folder are on the disk; Windows does that with the file itself."""
    if sys.platform == "win32":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def lock_for_writing(descriptor: int, patience: float = 0.0) -> bool:
    """Take the file for this program alone, until ``unlock``, or it is closed, or the program ends
    in any way.

    Args:
        descriptor: Of the open file.
        patience: For how many seconds to try.

    Returns:
        False if another program, or another writer in this one, has it all that time.
    """
    until = time.monotonic() + patience
    while not _locked(descriptor):
        if time.monotonic() >= until:
            return False
        time.sleep(LOOK_AGAIN_SECONDS)
    return True


def unlock(descriptor: int) -> None:
    """Give back what ``lock_for_writing`` took.

    Raises:
        OSError: If it cannot be given back.
    """
    if sys.platform == "win32":
        os.lseek(descriptor, LOCK_OFFSET, os.SEEK_SET)
        msvcrt.locking(descriptor, msvcrt.LK_UNLCK, 1)
    else:
        fcntl.flock(descriptor, fcntl.LOCK_UN)


def is_locked(descriptor: int) -> bool:
    """Whether another program has the file by ``lock_for_writing``. On Windows, where it cannot be
    shared, so does for an instant whoever asks the same.

    Raises:
        OSError: If it cannot be told.
    """
    if sys.platform == "win32":
        if not lock_for_writing(descriptor, LOOK_AGAIN_SECONDS):
            return True
    else:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_SH | fcntl.LOCK_NB)
        except BlockingIOError:
            return True
    unlock(descriptor)
    return False


def _locked(descriptor: int) -> bool:
    try:
        if sys.platform == "win32":
            os.lseek(descriptor, LOCK_OFFSET, os.SEEK_SET)
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        else:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    return True


def read_at(descriptor: int, place: int, length: int) -> bytes:
    """Read from a place on; fewer bytes only where the file ends before.

    Raises:
        OSError: If it cannot be read.
    """
    os.lseek(descriptor, place, os.SEEK_SET)
    parts = []
    while length > 0 and (part := os.read(descriptor, length)):
        parts.append(part)
        length -= len(part)
    return b"".join(parts)


def write_all(descriptor: int, data: bytes) -> None:
    """Write every byte at the present place; the system may take a long write in several parts.

    Raises:
        OSError: If it cannot be written whole.
    """
    rest = memoryview(data)
    while rest:
        rest = rest[os.write(descriptor, rest) :]


def replace_file(path: Path, data: bytes) -> None:
    """Write a file that only its owner reads, whole or not at all; its folder is made if need be.

    Raises:
        OSError: If it cannot be written; what stood there stands there still.
    """
    partial = path.with_name(f"{path.name}.part")
    path.parent.mkdir(parents=True, exist_ok=True)
    descriptor = os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    try:
        write_all(descriptor, data)
        sync_file(descriptor)
    finally:
        os.close(descriptor)
    partial.replace(path)
    sync_folder(path.parent)


def write_new(folder: Path, stem: str, suffix: str, data: bytes) -> Path:
    """Write a file that was not there, and return once it is on the disk; what cannot be written
    whole is removed again.

    Args:
        folder: Made where it is missing; the one above it must be there.
        stem: Its name; where one of that name is left from before a crash, a number is added.
        suffix: With its dot.
        data: All of it.

    Raises:
        OSError: If it cannot be written.
    """
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    folder.mkdir(exist_ok=True)
    if folder.is_symlink():
        raise OSError(errno.ELOOP, "the folder is a link")
    turn = 1
    while True:
        path = folder / (f"{stem}{suffix}" if turn == 1 else f"{stem}-{turn}{suffix}")
        try:
            descriptor = os.open(path, flags, 0o644)
            break
        except FileExistsError:
            turn += 1
    try:
        try:
            write_all(descriptor, data)
            sync_file(descriptor)
        finally:
            os.close(descriptor)
        sync_folder(folder)
    except OSError:
        path.unlink(missing_ok=True)
        raise
    return path
