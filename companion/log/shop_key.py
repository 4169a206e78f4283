"""The shop's own key, by which it signs logs: Ed25519 (RFC 8032), by the ``cryptography`` library.

It lies in the data folder, for its owner to read, without a passphrase: whoever can read it can
sign anything, a log that was written anew as well.
"""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import TYPE_CHECKING

from companion.errors import CompanionError, WrongUse
from companion.files.data import data_folder
from companion.files.disk import make_folders, sync_folder, write_once
from companion.files.plain import plain_bytes
from companion.files.quoting import quoted

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

KEY_NAME = "shop.key"
"""File name of the key inside the data folder: PKCS #8 in PEM."""

MOST_BYTES = 4096
"""Of the file; a key takes 119."""

_PUBLIC = re.compile("[0-9a-f]{64}")


def key_path() -> Path:
    """Return where the key is, or would be."""
    return data_folder() / KEY_NAME


def make_key() -> str:
    """Make the shop's key and return the public one, in hex.

    Raises:
        CompanionError: If there is one already, or it cannot be written.
    """
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import (
        Encoding,
        NoEncryption,
        PrivateFormat,
    )

    made = Ed25519PrivateKey.generate()
    data = made.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    path = key_path()
    try:
        # The folder of sessions marks a data folder, in which no page replaces anything.
        make_folders(path.parent / "sessions")
        write_once(path, data)
        sync_folder(path.parent)
    except FileExistsError:
        raise CompanionError(
            f"There is a key already ({path}), and logs may be signed with it; to begin with a new "
            "one, put that file away first."
        ) from None
    except OSError as error:
        raise CompanionError(
            f"{path} cannot be written ({error.strerror}); free some space on the disk, or mend "
            "the permissions of the data folder."
        ) from None
    return public_hex(made)


def shop_key() -> Ed25519PrivateKey | None:
    """Return the shop's key; None where it has none.

    Raises:
        CompanionError: If it cannot be read, or is no key of this kind.
    """
    path = key_path()
    if not os.path.lexists(path):
        return None
    # Imported only where there is a key: most sessions are never signed.
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    try:
        key = load_pem_private_key(plain_bytes(path, MOST_BYTES), password=None)
    except OSError as error:
        raise CompanionError(
            f"The shop's key cannot be read ({path}: {error.strerror}); mend its permissions, or "
            "put the file of the key back."
        ) from None
    except (ValueError, TypeError, UnsupportedAlgorithm):
        key = None
    if not isinstance(key, Ed25519PrivateKey):
        raise CompanionError(
            f"{path} is no Ed25519 key; take it from a backup, or put it away and make a new one "
            "with 'companion key make'."
        )
    return key


def public_hex(key: Ed25519PrivateKey) -> str:
    """Return the public key that belongs to a key, in lower-case hex: 64 digits."""
    return key.public_key().public_bytes_raw().hex()


def read_public(text: str) -> str:
    """Read a public key as ``companion key show`` prints it; spaces and capitals do not count.

    Raises:
        WrongUse: If it is none.
    """
    digits = re.sub(r"[\s:-]", "", text).lower()
    if not _PUBLIC.fullmatch(digits):
        raise WrongUse(
            f"'{quoted(text)}' is no public key; type the 64 digits that 'companion key show' "
            "prints."
        )
    return digits
