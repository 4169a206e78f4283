"""Sessions into one ZIP, with all their files and a manifest of hashes.

The same sessions always make the same ZIP, byte for byte.
"""

from __future__ import annotations

import hashlib
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO

from companion.errors import CompanionError, WrongUse
from companion.files.fresh import FreshFiles
from companion.files.limits import (
    LARGEST_FILE,
    LARGEST_LOG,
    MOST_BYTES,
    MOST_FILES,
    MOST_PACKED,
    MOST_SESSIONS,
    PACKED_SMALL,
)
from companion.files.plain import open_plain, plain_names
from companion.job.record import Record
from companion.log.clips import CLIP_FOLDER, HEAD_BYTES, hashes_of_clips, why_no_clip
from companion.log.line import LOG_NAME
from companion.log.names import slug
from companion.log.reader import contents_of, missing_records, too_many_lines, torn_files
from companion.log.scan import scan
from companion.log.tip import TIP_NAME, Tip, read_tip, tip_bytes
from companion.transfer.chosen import Chosen
from companion.transfer.manifest import (
    MANIFEST_NAME,
    PATH,
    Manifest,
    PackedFile,
    PackedSession,
)

FOLDERS = (CLIP_FOLDER, "photos")
"""Folders of a session whose files go along."""

PACKED_ALREADY = (".flac", ".jpg", ".jpeg", ".png", ".webp")
"""Ends of names of files that do not get smaller."""

PLAIN_FILE = 0o100644 << 16
"""How a ZIP says that a member is a plain file, for its owner to write."""


@dataclass(slots=True)
class Packed:
    """What was packed.

    Attributes:
        file: The ZIP.
        sessions: Names of the sessions in it.
        files: How many files of sessions it holds.
        left_out: What could not go along, a sentence each.
    """

    file: Path
    sessions: list[str] = field(default_factory=list)
    files: int = 0
    left_out: list[str] = field(default_factory=list)


def pack(chosen: Chosen, file: Path, *, shop: str | None = None, replace: bool = False) -> Packed:
    """Write the chosen sessions to a ZIP.

    Args:
        chosen: From ``choose``.
        file: Ends in ``.zip``.
        shop: Name of the shop, or None.
        replace: Whether a file that is there may be replaced.

    Raises:
        WrongUse: On another suffix.
        CompanionError: If no session can be packed, they are more than a ZIP may hold, or it is
            there already or cannot be written; nothing is then left half written.
    """
    if file.suffix.lower() != ".zip":
        raise WrongUse(f"Sessions cannot be exported as '{file.name}'; name a file in .zip.")
    packed = Packed(file)
    try:
        with (
            FreshFiles(replace=replace) as files,
            zipfile.ZipFile(files.open(file), "w", allowZip64=False) as made,
        ):
            _Packing(made, packed).all(chosen, shop)
    except OSError as error:
        raise CompanionError(
            f"{file} cannot be written ({error.strerror or error}); name a file in a folder that "
            "is there, with space and leave to write. Nothing was left there."
        ) from None
    return packed


class _Packing:
    """One ZIP in the making."""

    def __init__(self, made: zipfile.ZipFile, packed: Packed) -> None:
        self._made = made
        self._packed = packed
        self._bytes = 0

    def all(self, chosen: Chosen, shop: str | None) -> None:
        """Pack every session, and the manifest last."""
        sessions: list[PackedSession] = []
        folders: set[str] = set()
        for folder in chosen.one_by_one():
            try:
                log = _whole_log(folder)
            except CompanionError as error:
                self._packed.left_out.append(f"{folder.name} is left out: {error}")
                continue
            if not chosen.recent(log.records):
                continue
            name = _free(slug(folder.resolve().name), folders)
            sessions.append(self._session(folder, name, log))
        if not sessions:
            left_out = self._packed.left_out
            why = left_out[0] if left_out else f"none is of {chosen.since} or later."
            raise CompanionError(f"There is no session to export: {why}")
        if len(sessions) > MOST_SESSIONS:
            raise _too_much()
        manifest = Manifest(shop=shop, sessions=tuple(sessions))
        self._write(MANIFEST_NAME, manifest.model_dump_json(indent=1).encode())

    def _session(self, folder: Path, name: str, log: _Log) -> PackedSession:
        files = [
            self._file(name, LOG_NAME, log.data),
            self._file(name, TIP_NAME, tip_bytes(log.tip)),
        ]
        if not log.vouched:
            self._packed.left_out.append(
                f"{folder.name}: it has no {TIP_NAME}, so nobody can tell whether records were cut "
                "off at its end."
            )
        if log.torn:
            self._packed.left_out.append(
                f"{folder.name}: its last line is torn, and that line is left out."
            )
        hashes = hashes_of_clips(log.records)
        for path in _others(folder):
            try:
                with open_plain(folder / path) as source:
                    files.append(self._copy(name, path, source, hashes.get(path)))
            except _LeftOut as why:
                self._packed.left_out.append(f"{folder.name}: {path} {why}, and is left out.")
            except OSError as error:
                why_not = error.strerror or error
                self._packed.left_out.append(f"{folder.name}: {path} is left out ({why_not}).")
        self._packed.sessions.append(folder.resolve().name)
        self._packed.files += len(files)
        return PackedSession(
            # Some systems allow names that are in no encoding.
            name=folder.resolve().name.encode("utf-8", "replace").decode()[:255],
            folder=name,
            records=log.tip.seq,
            last=log.tip.digest,
            files=tuple(files),
        )

    def _copy(self, name: str, path: str, source: BinaryIO, sha256: str | None) -> PackedFile:
        data = source.read(LARGEST_FILE + 1)
        if len(data) > LARGEST_FILE:
            raise _LeftOut("is above 64 MiB")
        why = why_no_clip(data[:HEAD_BYTES]) if path.endswith(".flac") else None
        if why is not None:
            raise _LeftOut(why)
        if sha256 is not None and hashlib.sha256(data).hexdigest() != sha256:
            raise _LeftOut("was changed since it was recorded")
        return self._file(name, path, data)

    def _file(self, name: str, path: str, data: bytes) -> PackedFile:
        self._write(f"{name}/{path}", data)
        return PackedFile(path=path, bytes=len(data), sha256=hashlib.sha256(data).hexdigest())

    def _write(self, member: str, data: bytes) -> None:
        self._bytes += len(data)
        if self._bytes > MOST_BYTES or len(self._made.filelist) >= MOST_FILES:
            raise _too_much()
        info = zipfile.ZipInfo(member)
        info.create_system = 3
        info.external_attr = PLAIN_FILE
        packs = not member.endswith(PACKED_ALREADY) and _packs_as_import_allows(data)
        info.compress_type = zipfile.ZIP_DEFLATED if packs else zipfile.ZIP_STORED
        self._made.writestr(info, data)


class _LeftOut(Exception):
    """Why a file does not go along; completes "audio/0007.flac …"."""


@dataclass(frozen=True, slots=True)
class _Log:
    """Whole lines of a log, its records and tip, whether a torn line came after them, and whether
    a tip was there."""

    data: bytes
    records: tuple[Record, ...]
    tip: Tip
    torn: bool
    vouched: bool


def _whole_log(folder: Path) -> _Log:
    """The log up to its last whole line; one that is in use goes along as far as it was written.

    Raises:
        CompanionError: If it cannot be read, is damaged, or has lost records.
    """
    tip = read_tip(folder)
    try:
        with open_plain(folder / LOG_NAME) as log:
            data = log.read(LARGEST_LOG + 1)
    except OSError as error:
        raise CompanionError(f"its log cannot be read ({error.strerror or error}).") from None
    if len(data) > LARGEST_LOG:
        raise CompanionError("its log is above 64 MiB.")
    if too_many_lines(data):
        raise CompanionError("its log is none of Bench Companion (its lines are too short).")
    found = scan(data, tip)
    records = contents_of(folder, found).records
    if found.missing:
        raise CompanionError(f"{missing_records(found)}; take a copy from a backup.")
    whole = data[: found.end] + (b"\n" if found.unended else b"")
    return _Log(whole, records, Tip(len(records), found.last), bool(found.torn), found.has_tip)


def _others(folder: Path) -> Iterator[str]:
    """Paths of the files beside the log that go along."""
    paths = [*torn_files(folder)]
    for kind in FOLDERS:
        paths += [f"{kind}/{name}" for name in plain_names(folder / kind)]
    return (path for path in paths if PATH.fullmatch(path))


def _packs_as_import_allows(data: bytes) -> bool:
    if len(data) <= PACKED_SMALL:
        return True
    return len(zlib.compress(data)) * MOST_PACKED > len(data)


def _free(name: str, taken: set[str]) -> str:
    free, turn = name, 1
    while free in taken:
        turn += 1
        free = f"{name}-{turn}"
    taken.add(free)
    return free


def _too_much() -> CompanionError:
    return CompanionError(
        f"These sessions are more than one ZIP may hold ({MOST_SESSIONS:,} sessions, "
        f"{MOST_FILES:,} files, {MOST_BYTES / 1e9:.0f} GB); export fewer at once, by machine or "
        "--since."
    )
