"""What a file of one's own is named by: a name that a person gave, as every system writes it."""

from __future__ import annotations

import re
import unicodedata

MOST_LETTERS = 60
"""Most characters of such a name: with its ending and a longer path every system accepts it."""


def stem_of(name: str) -> str:
    """Return lower-case words of letters a to z and digits with hyphens between them.

    Args:
        name: "Rosa's mower".

    Returns:
        "rosas-mower"; empty where the name has no such letter and no digit.
    """
    plain = unicodedata.normalize("NFD", name.casefold()).replace("'", "").replace("’", "")
    plain = "".join(each for each in plain if not unicodedata.combining(each))
    return "-".join(re.findall(r"[a-z0-9]+", plain))[:MOST_LETTERS].strip("-")
