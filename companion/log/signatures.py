"""Signatures of a log: what its anchor was, when, and by which key, in a file beside it.

``log.signatures`` has a JSON object a line, appended and synced. A signature that is taken away
does not show, unless whoever checks knows that there was one.
"""

from __future__ import annotations

import json
import os
import re
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from companion.errors import CompanionError
from companion.files.disk import append_line
from companion.files.limits import LARGEST_WHOLE
from companion.files.plain import plain_bytes
from companion.log.anchor import Anchor
from companion.log.line import rfc3339
from companion.log.reader import contents_of, scan_log
from companion.log.shop_key import key_path, public_hex, shop_key

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

SIGNATURES_NAME = "log.signatures"
"""File name of the signatures inside a session folder."""

MOST_BYTES = 2**20
"""Of the file; a signature takes four hundred."""


@dataclass(frozen=True, slots=True)
class Signature:
    """One signature, found to be right or not.

    Attributes:
        anchor: What was signed: how many records, and the hash of the last.
        at: When, by the clock of whoever signed, as it was written.
        public: By which key, in hex.
        right: Whether that key made it.
    """

    anchor: Anchor
    at: str
    public: str
    right: bool


def sign(folder: Path, anchor: Anchor, at: datetime) -> Signature | None:
    """Sign a log with the shop's key; None where the shop has none. What is signed already is not
    signed again.

    Args:
        folder: The session folder.
        anchor: Of the log as it stands, with its whole hash.
        at: Now, with its offset from UTC.

    Raises:
        CompanionError: If the key cannot be used, or the signature not be written.
    """
    key = shop_key()
    if key is None:
        return None
    public = public_hex(key)
    for each in signatures_of(folder):
        if each.right and (each.anchor, each.public) == (anchor, public):
            return each
    made = Signature(anchor, rfc3339(at), public, right=True)
    _append(folder, _line(made, key))
    return made


def sign_log(folder: Path, at: datetime) -> Signature | None:
    """Sign a log as it stands on the disk; None where the shop has no key.

    Raises:
        CompanionError: As ``read_log`` and ``sign``.
    """
    if not os.path.lexists(key_path()):
        return None
    found = scan_log(folder)
    records = contents_of(folder, found).records
    return sign(folder, Anchor(len(records), found.last), at)


def signatures_of(folder: Path) -> tuple[Signature, ...]:
    """Return the signatures beside a log, in order; lines that are none are passed over."""
    try:
        lines = plain_bytes(folder / SIGNATURES_NAME, MOST_BYTES).splitlines()
    except OSError:
        return ()
    found = (_read(line) for line in lines)
    return tuple(each for each in found if each is not None)


def _line(made: Signature, key: Ed25519PrivateKey) -> bytes:
    entry = {
        "v": 1,
        "records": made.anchor.records,
        "sha256": made.anchor.sha256,
        "at": made.at,
        "public": made.public,
        "signature": key.sign(_signed(made.anchor, made.at)).hex(),
    }
    return json.dumps(entry, separators=(",", ":")).encode("ascii")


def _signed(anchor: Anchor, at: str) -> bytes:
    """The bytes that are signed; their first line keeps them from being taken for any other signed
    text."""
    text = f"Bench Companion log 1\n{anchor.records}\n{anchor.sha256}\n{at}\n"
    return text.encode("ascii")


def _read(line: bytes) -> Signature | None:
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    try:
        entry = json.loads(line)
        records = entry["records"]
        if type(records) is not int or not 0 < records <= LARGEST_WHOLE:
            return None
        anchor = Anchor(records, str(entry["sha256"]))
        at, public = str(entry["at"]), str(entry["public"])
        if entry["v"] != 1 or not re.fullmatch("[0-9a-f]{64}", anchor.sha256):
            return None
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(public))
        signature, signed = bytes.fromhex(entry["signature"]), _signed(anchor, at)
    except (ValueError, TypeError, KeyError, RecursionError):
        return None
    try:
        key.verify(signature, signed)
    except InvalidSignature:
        return Signature(anchor, at[:40], public, right=False)
    return Signature(anchor, at[:40], public, right=True)


def _append(folder: Path, line: bytes) -> None:
    try:
        append_line(folder / SIGNATURES_NAME, line)
    except OSError as error:
        raise CompanionError(
            f"The signature cannot be written beside the log in {folder} ({error.strerror}); make "
            "the folder writable and sign again with 'companion key sign'."
        ) from None
