"""Keys by which names of machines and sessions are compared."""

from __future__ import annotations

import hashlib
import re
import unicodedata

MOST_OF_NAME = 60
"""Characters of a name that go into the name of a folder, or into a key."""


HASH_OF_NAME = 10
"""Characters of a hash in a key."""


def same_machine(one: str, other: str) -> bool:
    """Whether two names mean one machine: letters and digits of any alphabet count, case and the
    rest do not."""
    return name_key(one) == name_key(other)


def name_key(name: str) -> str:
    """Return what a name is told apart by: letters, digits and single hyphens only, as ``slug``; of
    a name in other letters, or a longer one, a hash of it keeps it apart from others.

    The key of a key is that key.
    """
    letters = re.sub(r"[\W_]+", "-", unicodedata.normalize("NFKC", name).casefold()).strip("-")
    if letters.isascii() and 0 < len(letters) <= MOST_OF_NAME:
        return letters
    counts = letters or "".join(name.split())
    digest = hashlib.sha256(counts.encode(errors="replace")).hexdigest()[:HASH_OF_NAME]
    return f"{slug(letters)[: MOST_OF_NAME - HASH_OF_NAME - 1].strip('-')}-{digest}"


def slug(text: str) -> str:
    """Return letters, digits and single hyphens only: a file name on every system."""
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")[:MOST_OF_NAME].strip("-") or "job"
