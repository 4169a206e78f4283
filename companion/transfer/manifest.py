"""The manifest of a ZIP of sessions, and what may stand in such a ZIP at all.

``manifest.json`` lists every other file with its size and SHA-256, session by session. The files of
a session stand in a folder of their own: ``log.jsonl``, ``log.tip``, torn lines that were set aside
(``log.torn-1`` …), sounds in ``audio``, pictures in ``photos``. Nothing else may be in the ZIP.
"""

from __future__ import annotations

import json
import re
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from companion.files.limits import LARGEST_FILE, MOST_SESSIONS
from companion.log.line import LOG_NAME
from companion.log.tip import TIP_NAME

MANIFEST_NAME = "manifest.json"
MANIFEST_VERSION = 1
"""What this program writes, and the newest it reads."""

PATH = re.compile(
    rf"{re.escape(LOG_NAME)}|{re.escape(TIP_NAME)}|log\.torn-[1-9][0-9]{{0,8}}"
    r"|audio/[0-9][A-Za-z0-9_-]{0,79}\.flac"
    r"|photos/[0-9][A-Za-z0-9_-]{0,79}\.(jpg|jpeg|png|webp)",
    re.ASCII,
)
"""Path of a file inside its session."""

FOLDER = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*", re.ASCII)
"""Name of the folder of a session inside the ZIP."""

HEX = r"^[0-9a-f]{64}$"


class NoManifest(ValueError):
    """It is no manifest; the message completes "its manifest …"."""


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class PackedFile(_Part):
    """One file of a session.

    Attributes:
        path: Inside the session.
        bytes: Its size.
        sha256: In lower-case hex.
    """

    path: str = Field(pattern=rf"^({PATH.pattern})$", max_length=120)
    bytes: int = Field(ge=0, le=LARGEST_FILE)
    sha256: str = Field(pattern=HEX)


class PackedSession(_Part):
    """One session.

    Attributes:
        name: Of its folder where it was exported.
        folder: In the ZIP.
        records: How many its log has.
        last: SHA-256 of the last line of its log.
        files: All of them.
    """

    name: str = Field(min_length=1, max_length=255)
    folder: str = Field(pattern=rf"^{FOLDER.pattern}$", max_length=80)
    records: int = Field(ge=1)
    last: str = Field(pattern=HEX)
    files: tuple[PackedFile, ...]


class Manifest(_Part):
    """All of it.

    Attributes:
        made_by: What it is.
        version: Of this form.
        shop: Name of the shop, or None.
        sessions: One or more.
    """

    made_by: Literal["bench-companion sessions"] = "bench-companion sessions"
    version: Literal[1] = 1
    shop: str | None = Field(default=None, max_length=100)
    sessions: tuple[PackedSession, ...] = Field(min_length=1, max_length=MOST_SESSIONS)


def read_manifest(data: bytes) -> Manifest:
    """Read a manifest.

    Raises:
        NoManifest: If it is none, or of a newer version.
    """
    try:
        version = json.loads(data).get("version")
    except (ValueError, RecursionError, AttributeError):
        raise NoManifest("is not JSON as it should be") from None
    if isinstance(version, int) and version > MANIFEST_VERSION:
        raise NoManifest("is of a newer Bench Companion; install that version to import it")
    try:
        return Manifest.model_validate_json(data)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        where = ".".join(str(part) for part in first["loc"])[:80]
        raise NoManifest(f"is not as it should be at '{where}'") from None
