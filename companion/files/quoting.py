"""What stands in a file of others, quoted in a sentence: short, whatever its length."""

from __future__ import annotations

import re

from companion.files.limits import LONGEST_QUOTED, LONGEST_SENTENCE


def quoted(value: object) -> str:
    """Return what stands in a file, short enough for a sentence."""
    text = value if isinstance(value, str) else repr(value)
    return text if len(text) <= LONGEST_QUOTED else f"{text[: LONGEST_QUOTED - 1]}…"


_QUOTATION = re.compile(r"(?<!\w)'([^'\n]*)'(?!\w)|(?<!\w)<([^<>\n]*)>")


def with_short_quotations(sentence: str) -> str:
    """Return a sentence about what stands in a file, each thing quoted from it short enough.

    Whatever is quoted may have any length, and so may the names that are listed as known.
    """

    def short(found: re.Match[str]) -> str:
        if found[1] is None:
            return f"<{quoted(found[2])}>"
        return f"'{quoted(found[1])}'"

    told = _QUOTATION.sub(short, sentence)
    half = LONGEST_SENTENCE // 4
    return told if len(told) <= 3 * half else f"{told[: 2 * half]} … {told[-half:]}"
