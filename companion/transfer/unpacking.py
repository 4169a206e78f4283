"""A ZIP of sessions unpacked beside the sessions, and everything in it verified, before any of it
counts."""

from __future__ import annotations

import hashlib
import os
import struct
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from pathlib import Path

from companion.errors import CompanionError
from companion.files.disk import FOLDER_MODE, sync_folder, write_once
from companion.files.limits import LARGEST_LOG, MOST_BYTES
from companion.files.plain import open_plain
from companion.log.clips import HEAD_BYTES, hashes_of_clips, why_no_clip
from companion.log.line import LOG_NAME
from companion.log.reader import contents_of, missing_records, scan_log
from companion.log.tip import TIP_NAME, Tip, read_tip
from companion.transfer.fitness import why_unfit
from companion.transfer.manifest import (
    MANIFEST_NAME,
    Manifest,
    NoManifest,
    PackedFile,
    PackedSession,
    read_manifest,
)
from companion.transfer.shown import shown
from companion.transfer.zip_file import NoExport, open_export

LONGEST_REASON = 300
"""Characters of a reason that are shown: it may repeat what stands in a hostile file."""

DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    NotImplementedError,
    RuntimeError,
    struct.error,
    ValueError,
)
"""What reading a damaged member raises."""


def unpack(file: Path, into: Path) -> list[tuple[PackedSession, Path]]:
    """Unpack a ZIP and verify it: names, sizes, hashes, and the chain of each log.

    Args:
        file: The ZIP.
        into: An empty folder; what is left in it after an error is to be removed.

    Returns:
        The sessions, each with the folder that now holds it, on the disk.

    Raises:
        CompanionError: If it cannot be read, or anything is not as it must be.
        OSError: If ``into`` cannot be written.
    """
    try:
        opened = open_plain(file, through_link=True)
    except OSError as error:
        raise CompanionError(
            f"{file} cannot be read ({error.strerror or error}); name a ZIP file that "
            "'companion export' has made."
        ) from None
    with opened:
        try:
            if opened.seek(0, os.SEEK_END) > MOST_BYTES + LARGEST_LOG:
                raise NoExport(f"is larger than {MOST_BYTES / 1e9:.0f} GB")
            zipped, members = open_export(opened)
            with zipped:
                return list(_sessions(zipped, members, into))
        except (NoExport, NoManifest) as why:
            its = "its manifest " if isinstance(why, NoManifest) else "it "
            raise CompanionError(
                f"{file} cannot be imported: {its}{shown(str(why), LONGEST_REASON)}. "
                "Nothing was imported."
            ) from None


def _sessions(
    zipped: zipfile.ZipFile, members: Mapping[str, zipfile.ZipInfo], into: Path
) -> Iterator[tuple[PackedSession, Path]]:
    manifest = read_manifest(_content(zipped, members[MANIFEST_NAME]))
    _refuse_unlisted(manifest, members)
    for number, session in enumerate(manifest.sessions, start=1):
        folder = into / str(number)
        folder.mkdir(FOLDER_MODE)
        for listed in session.files:
            info = members[f"{session.folder}/{listed.path}"]
            write_once(folder / listed.path, _verified(zipped, info, listed))
        for inner in {(folder / listed.path).parent for listed in session.files}:
            sync_folder(inner)
        sync_folder(folder)
        _refuse_log(folder, session)
        yield session, folder


def _refuse_unlisted(manifest: Manifest, members: Mapping[str, zipfile.ZipInfo]) -> None:
    listed = [
        f"{session.folder}/{file.path}" for session in manifest.sessions for file in session.files
    ]
    if len(set(listed)) < len(listed):
        raise NoManifest("lists a file twice")
    unlisted = sorted(set(members) - set(listed) - {MANIFEST_NAME})
    lacking = sorted(set(listed) - set(members))
    if unlisted:
        raise NoManifest(f"does not list {unlisted[0]}")
    if lacking:
        raise NoManifest(f"lists {lacking[0]}, which is not there")
    for session in manifest.sessions:
        paths = {file.path for file in session.files}
        if not {LOG_NAME, TIP_NAME} <= paths:
            raise NoManifest(f"lists no log of {session.folder}")


def _content(zipped: zipfile.ZipFile, info: zipfile.ZipInfo) -> bytes:
    """What is in a member; no more is unpacked than its size as claimed and looked at before."""
    try:
        with zipped.open(info) as member:
            # Without a limit this would unpack everything that is packed, whatever size is claimed.
            data = member.read(info.file_size + 1)
    except DAMAGED:
        raise NoExport(f"is damaged at {info.filename}") from None
    if len(data) != info.file_size:
        raise NoExport(f"is damaged at {info.filename}")
    return data


def _verified(zipped: zipfile.ZipFile, info: zipfile.ZipInfo, listed: PackedFile) -> bytes:
    data = _content(zipped, info)
    if len(data) != listed.bytes or hashlib.sha256(data).hexdigest() != listed.sha256:
        raise NoExport(f"holds {info.filename} otherwise than its manifest says")
    why = why_no_clip(data[:HEAD_BYTES]) if listed.path.endswith(".flac") else None
    if why is not None:
        raise NoExport(f"holds {info.filename}, which {why}")
    return data


def _refuse_log(folder: Path, session: PackedSession) -> None:
    """Verify the chain of an unpacked log, and hold it against its tip and the manifest."""
    found = scan_log(folder)
    name = session.folder
    if found.newer:
        raise NoExport(f"holds a log of a newer Bench Companion ({name}); install that version")
    if found.problems:
        raise NoExport(f"holds a log that does not verify: {name}, {found.problems[0]}")
    if found.torn or found.unended or not found.records:
        raise NoExport(f"holds a log that does not end with a whole line ({name})")
    if found.missing:
        raise NoExport(f"holds a log that does not verify: {name}, {missing_records(found)}")
    last = Tip(len(found.records), found.last)
    if read_tip(folder) != last or last != Tip(session.records, session.last):
        raise NoExport(f"holds a log whose end is not what it should be ({name})")
    records = contents_of(folder, found).records
    why = why_unfit(records)
    if why is not None:
        raise NoExport(f"holds a log that no bench wrote ({name}): {why}")
    listed = {file.path: file.sha256 for file in session.files}
    for clip, sha256 in hashes_of_clips(records).items():
        if listed.get(clip, sha256) != sha256:
            raise NoExport(f"holds {name}/{clip}, which is not the sound that was recorded")
