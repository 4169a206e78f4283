"""ZIPs of sessions, made worse from within: what was changed is packed again with sizes and hashes
that are right, so that it gets past them to what lies behind."""

from __future__ import annotations

import hashlib
import io
import json
import shutil
import warnings
import zipfile
from datetime import timedelta
from pathlib import Path
from random import Random
from typing import Any

from companion.log.tip import Tip, tip_bytes
from tests.logs import MONDAY, invented_job
from tools.fuzz.given import Reader, a_data_folder, a_place
from tools.fuzz.nasty import worse, worse_log, worse_value

MANIFEST = "manifest.json"
MOST_UNPACKED = 10**6
"""Bytes of a member that is changed; inputs are far smaller."""


def worse_zip(data: bytes, random: Random) -> bytes:
    """Return a ZIP with something changed inside, and the hashes in its manifest right again,
    mostly.

    Raises:
        ValueError: If it is no ZIP that can be changed so.
    """
    members = _members(data)
    for _ in range(random.randint(1, 2)):
        name = random.choice(sorted(members))
        what = random.randrange(10)
        if what == 0:
            other = random.choice(sorted(members))
            members[name], members[other] = members[other], members[name]
        elif what == 1:
            members[name + random.choice(_NAMES)] = members[name]
        elif what == 2 and name != MANIFEST:
            del members[name]
        elif name.endswith("log.jsonl"):
            members[name] = worse_log(members[name], random)
        elif name != MANIFEST:
            members[name] = worse(members[name], random, list(members.values()))
    if random.randrange(8):
        members = _made_right(members, random)
    return _packed(members, random)


def worse_manifest(data: bytes, random: Random) -> bytes:
    """Return a ZIP with something else in its manifest.

    Raises:
        ValueError: As ``worse_zip``.
    """
    members = _members(data)
    manifest = json.loads(members[MANIFEST])
    for _ in range(random.randint(1, 3)):
        manifest = worse_value(manifest, random)
    members[MANIFEST] = json.dumps(manifest).encode()
    if random.randrange(4) == 0:
        members[MANIFEST] = worse(members[MANIFEST], random, [])
    return _packed(members, random)


_NAMES = (
    *("-2", "/../../x", "\\x", "\0", "\u202e", "/", ".", " ", "x" * 300),
    *("/audio/1.flac", "/log.torn-1"),
)


def _members(data: bytes) -> dict[str, bytes]:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as zipped:
            infos = zipped.infolist()
            if sum(info.file_size for info in infos) > MOST_UNPACKED:
                raise ValueError("too large")
            members = {info.filename: zipped.read(info) for info in infos}
    except Exception as error:
        # Whatever the library meets in what was spoiled before.
        raise ValueError(error) from None
    if MANIFEST not in members or len(members) < 2:
        raise ValueError("no export")
    return members


def _made_right(members: dict[str, bytes], random: Random) -> dict[str, bytes]:
    """The members with a manifest and tips that fit them."""
    manifest: dict[str, Any] = json.loads(members[MANIFEST])
    made = dict(members)
    for session in manifest["sessions"]:
        folder = session["folder"]
        log = made.get(f"{folder}/log.jsonl", b"")
        session["records"] = max(1, log.count(b"\n"))
        last = log.removesuffix(b"\n").rpartition(b"\n")[2]
        session["last"] = hashlib.sha256(last).hexdigest()
        if f"{folder}/log.tip" in made and random.randrange(6):
            made[f"{folder}/log.tip"] = tip_bytes(Tip(session["records"], session["last"]))
        session["files"] = [
            {
                "path": name.removeprefix(f"{folder}/"),
                "bytes": len(content),
                "sha256": hashlib.sha256(content).hexdigest(),
            }
            for name, content in made.items()
            if name.startswith(f"{folder}/")
        ]
    made[MANIFEST] = json.dumps(manifest).encode()
    return made


def _packed(members: dict[str, bytes], random: Random) -> bytes:
    out = io.BytesIO()
    with warnings.catch_warnings(), zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as zipped:
        # Two members of one name are what is wanted.
        warnings.simplefilter("ignore")
        for name, content in members.items():
            info = zipfile.ZipInfo(name.encode(errors="replace").decode()[:60_000])
            info.compress_type = random.choice([zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED])
            info.external_attr = random.choice([0o600, 0o600, 0o600, 0o120777, 0o20666]) << 16
            zipped.writestr(info, content)
    return out.getvalue()


def _import(data: Path) -> object:
    """Import what comes, beside a job that is there already."""
    from companion.transfer.placing import import_sessions

    shutil.rmtree(data / "sessions", ignore_errors=True)
    return import_sessions(data / "from.zip")


def zips() -> list[bytes]:
    """One of a job with its clips and photo, and one of two typed jobs."""
    from companion.log.photos import add_photo
    from tests.review_pages import picture

    with a_place() as folder:
        job = folder / "one" / "job"
        invented_job(job)
        add_photo(job, picture(size=(60, 40)), at=MONDAY + timedelta(hours=3))
        for clip in sorted((job / "audio").iterdir())[3:]:
            clip.unlink()
        for name in ("first", "second"):
            invented_job(folder / "two" / name)
            shutil.rmtree(folder / "two" / name / "audio")
        return [_export(folder / "one"), _export(folder / "two")]


def _export(folder: Path) -> bytes:
    from companion.transfer.chosen import Chosen
    from companion.transfer.packing import pack

    file = folder / "all.zip"
    pack(Chosen(tuple(sorted(path for path in folder.iterdir() if path.is_dir()))), file)
    return file.read_bytes()


READERS = (
    Reader(
        "ZIP imports",
        lambda: a_data_folder("from.zip", _import),
        zips,
        change=worse_zip,
    ),
    Reader(
        "manifests in a ZIP",
        lambda: a_data_folder("from.zip", _import),
        zips,
        change=worse_manifest,
    ),
)
"""What reads a ZIP of others."""
