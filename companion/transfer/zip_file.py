"""A ZIP from anywhere, opened only if everything in it is what an export of sessions has.

Nothing is unpacked here; the sizes, names and kinds that the ZIP claims are checked against the
limits before a byte of its contents is read.
"""

from __future__ import annotations

import re
import stat
import struct
import zipfile
from typing import BinaryIO

from companion.files.limits import (
    LARGEST_FILE,
    LARGEST_MANIFEST,
    MOST_BYTES,
    MOST_FILES,
    MOST_PACKED,
    PACKED_SMALL,
)
from companion.transfer.manifest import FOLDER, MANIFEST_NAME, PATH

END = struct.Struct("<4s4H2LH")
"""End of the central directory (APPNOTE 4.3.16): mark, four 16-bit counts of disks and files, size
and place of the directory, length of a comment."""

END_MARK = b"PK\x05\x06"
END_64_MARK = b"PK\x06\x07"
END_64_BYTES = 20

ENTRY_BYTES = 46 + 300
"""Bytes that a file takes in the directory at most: its fixed part, and the longest name here with
room to spare."""

ENCRYPTED = 0x1 | 0x40
"""Bits of the flags that mean an encrypted member."""

MEMBER = re.compile(rf"{FOLDER.pattern}/(?:{PATH.pattern})", re.ASCII)


class NoExport(ValueError):
    """It is no export of sessions; the message completes "FILE cannot be imported: it …"."""


def open_export(file: BinaryIO) -> tuple[zipfile.ZipFile, dict[str, zipfile.ZipInfo]]:
    """Open a ZIP and look at its directory.

    Args:
        file: A plain file, open for reading.

    Returns:
        The ZIP, and its members by name.

    Raises:
        NoExport: If anything is in it that an export has not.
        OSError: If it cannot be read.
    """
    files = _files_claimed(file)
    try:
        opened = zipfile.ZipFile(file)
    except (zipfile.BadZipFile, ValueError, NotImplementedError, struct.error):
        raise NoExport("is damaged, or no ZIP file") from None
    members: dict[str, zipfile.ZipInfo] = {}
    seen: set[str] = set()
    total = 0
    for info in opened.infolist():
        _refuse(info)
        # Where case does not matter the second would be written over the first.
        if info.filename.casefold() in seen:
            raise NoExport(f"holds {_shown(info.filename)} twice")
        seen.add(info.filename.casefold())
        members[info.filename] = info
        total += info.file_size
    if len(members) != files:
        raise NoExport("is damaged: its directory is not what its end says")
    if total > MOST_BYTES:
        raise NoExport(f"unpacks to more than {MOST_BYTES / 1e9:.0f} GB")
    if MANIFEST_NAME not in members:
        raise NoExport(f"has no {MANIFEST_NAME}; 'companion export SESSION --zip FILE' makes one")
    return opened, members


def _files_claimed(file: BinaryIO) -> int:
    """How many files the end of the ZIP speaks of, before anything else is read.

    Exports have no comment and need no 64-bit extension, so the end is the last 22 bytes.
    """
    size = file.seek(0, 2)
    file.seek(max(0, size - END.size - END_64_BYTES))
    tail = file.read()
    if len(tail) < END.size or not tail[-END.size :].startswith(END_MARK):
        raise NoExport("is cut short, or no ZIP file of 'companion export'")
    if tail[: -END.size].startswith(END_64_MARK):
        raise NoExport("is a 64-bit ZIP, which an export never is")
    _, disk, first_disk, here, files, bytes_, start, comment = END.unpack(tail[-END.size :])
    if disk or first_disk or here != files or comment or start + bytes_ + END.size != size:
        raise NoExport("is damaged, or no ZIP file of 'companion export'")
    if files > MOST_FILES or bytes_ > files * ENTRY_BYTES:
        raise NoExport(f"holds more than {MOST_FILES:,} files, or names that are far too long")
    return int(files)


def _refuse(info: zipfile.ZipInfo) -> None:
    name = info.orig_filename
    shown = _shown(name)
    if name != MANIFEST_NAME and not MEMBER.fullmatch(name):
        raise NoExport(f"holds {shown}, which is no file of a session")
    if info.filename != name:
        raise NoExport(f"holds {shown}, whose name is not what it seems")
    if info.flag_bits & ENCRYPTED:
        raise NoExport(f"is encrypted ({shown}); an export never is")
    kind = stat.S_IFMT(info.external_attr >> 16)
    if kind not in (0, stat.S_IFREG):
        raise NoExport(f"holds {shown} as a link or device, not as a plain file")
    if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise NoExport(f"is packed in a way that an export never is ({shown})")
    if info.compress_type == zipfile.ZIP_STORED and info.file_size != info.compress_size:
        raise NoExport(f"is damaged: two sizes of {shown}")
    most = LARGEST_MANIFEST if name == MANIFEST_NAME else LARGEST_FILE
    if info.file_size > most:
        raise NoExport(f"holds {shown}, which unpacks to more than {most // 2**20} MiB")
    if info.file_size > max(PACKED_SMALL, MOST_PACKED * info.compress_size):
        raise NoExport(f"holds {shown}, which unpacks to more than {MOST_PACKED} times its size")


def _shown(name: str) -> str:
    """A name as it may stand in a sentence, whatever is in it."""
    return ascii(name if len(name) <= 60 else f"{name[:57]}...")
