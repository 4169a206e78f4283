"""What the log asks of the system: bytes on the disk, and one program writing at a time.

Whatever is made here is for its owner alone, also where the umask would let others read: what was
said at the bench is nobody else's.
"""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import stat
import sys
import time
from pathlib import Path

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

LOCK_OFFSET = 1 << 40
"""Byte that is locked on Windows: far past any log, because a lock there also keeps readers out."""

FILE_MODE = 0o600
"""Of every file that is made: its owner reads and writes it. Windows goes by the folder instead."""

FOLDER_MODE = 0o700
"""Of every folder that is made."""

PART_PREFIX = ".bench-companion-"
PART_SUFFIX = ".part"
"""Stand around the random part in the name of a file that is not whole yet. The later name is not
part of it, since that may already be as long as a name can be."""

LOOK_AGAIN_SECONDS = 0.002
"""Seconds between two tries for a lock: about as long as an append takes."""


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
    """Whether another program has locked the file by ``lock_for_writing``. On Windows, where a lock
    cannot be shared, another program that asks the same question counts for an instant too.

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

    Args:
        descriptor: Of an open file.
        place: The first byte, counted from 0.
        length: How many bytes.

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


def make_folders(folder: Path) -> None:
    """Make a folder and those above it that are missing, each on the disk once this returns: the
    name of each is synced in the folder that holds it.

    Args:
        folder: May be there already, or be a link to a folder.

    Raises:
        OSError: If one cannot be made, or is no folder.
    """
    missing: list[Path] = []
    above = Path(os.path.abspath(folder)) if ".." not in folder.parts else folder
    while not above.is_dir():
        missing.append(above)
        if above.parent == above:
            break
        above = above.parent
    for each in reversed(missing):
        try:
            each.mkdir(FOLDER_MODE)
        except FileExistsError:
            # Another program was quicker; or it is no folder.
            if not each.is_dir():
                raise
        sync_folder(each.parent)


def open_own(path: Path, flags: int) -> int:
    """Open a plain file of the program's own for writing, or make it; nothing else is opened, and
    no link is followed.

    Args:
        path: The file.
        flags: As for ``os.open``.

    Returns:
        Its descriptor.

    Raises:
        OSError: If it cannot be opened or made, or is a link, a folder, a pipe or a device.
    """
    flags |= getattr(os, "O_BINARY", 0) | getattr(os, "O_NOFOLLOW", 0)
    # Opening a pipe that nobody reads would never return.
    flags |= getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_CLOEXEC", 0)
    if not hasattr(os, "O_NOFOLLOW") and path.is_symlink():
        raise _no_plain_file(path)
    descriptor = os.open(path, flags, FILE_MODE)
    if stat.S_ISREG(os.fstat(descriptor).st_mode):
        return descriptor
    os.close(descriptor)
    raise _no_plain_file(path)


def open_part(beside: Path) -> tuple[int, Path]:
    """Make an empty file in the folder of another, under a name that nobody can foresee.

    Returns:
        Its descriptor, for reading and writing, and its path.

    Raises:
        OSError: If it cannot be made.
    """
    part = beside.with_name(f"{PART_PREFIX}{secrets.token_hex(8)}{PART_SUFFIX}")
    return open_own(part, os.O_RDWR | os.O_CREAT | os.O_EXCL), part


def replace_file(path: Path, data: bytes) -> None:
    """Write a file that only its owner reads, whole or not at all; its folder is made if need be.

    Args:
        path: Of the program's own making. What is there and is no plain file is left alone.
        data: All of it.

    Raises:
        OSError: If it cannot be written; what stood there stands there still.
    """
    make_folders(path.parent)
    with contextlib.suppress(FileNotFoundError):
        if not stat.S_ISREG(path.lstat().st_mode):
            raise _no_plain_file(path)
    descriptor, part = open_part(path)
    try:
        try:
            write_all(descriptor, data)
            sync_file(descriptor)
        finally:
            os.close(descriptor)
        part.replace(path)
    except BaseException:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


def append_line(path: Path, line: bytes) -> None:
    """Write a line at the end of a file of the program's own, made if need be like its folder, and
    return once it is on the disk. What a line that was cut short left behind does not swallow it.

    Args:
        path: The file; others may append to it at the same time.
        line: Without line feeds.

    Raises:
        OSError: If it cannot be written, or is no plain file.
    """
    make_folders(path.parent)
    is_new = not os.path.lexists(path)
    descriptor = open_own(path, os.O_RDWR | os.O_CREAT | os.O_APPEND)
    try:
        size = os.fstat(descriptor).st_size
        cut_short = size > 0 and read_at(descriptor, size - 1, 1) != b"\n"
        write_all(descriptor, (b"\n" if cut_short else b"") + line + b"\n")
        sync_file(descriptor)
    finally:
        os.close(descriptor)
    if is_new:
        sync_folder(path.parent)


def write_new(folder: Path, stem: str, suffix: str, data: bytes) -> Path:
    """Write a file that was not there, and return once it is on the disk; what cannot be written
    whole is removed again.

    Args:
        folder: Made where it is missing; the one above it must be there. It may be no link: it
            would lead out of the session.
        stem: Its name; where one of that name is left from before a crash, a number is added.
        suffix: With its dot.
        data: All of it.

    Raises:
        OSError: If it cannot be written.
    """
    turn = 1
    while True:
        path = folder / (f"{stem}{suffix}" if turn == 1 else f"{stem}-{turn}{suffix}")
        try:
            write_once(path, data)
        except FileExistsError:
            if not os.path.lexists(path):
                raise
            turn += 1
        else:
            sync_folder(folder)
            return path


def write_once(path: Path, data: bytes) -> None:
    """Write a file that is not there yet; whoever asks syncs its folder when all of them are there.

    Args:
        path: The file. Its folder is made where it is missing, and may be no link.
        data: All of it.

    Raises:
        OSError: If it is there, or cannot be written; what is not whole is removed again.
    """
    folder = path.parent
    if not os.path.lexists(folder):
        folder.mkdir(FOLDER_MODE, exist_ok=True)
        sync_folder(folder.parent)
    if not stat.S_ISDIR(folder.lstat().st_mode):
        raise NotADirectoryError(errno.ENOTDIR, "it is no folder of its own", str(folder))
    descriptor = open_own(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL)
    try:
        try:
            write_all(descriptor, data)
            sync_file(descriptor)
        finally:
            os.close(descriptor)
    except OSError:
        path.unlink(missing_ok=True)
        raise


def _no_plain_file(path: Path) -> OSError:
    return OSError(errno.EINVAL, "what is there is no plain file", str(path))
