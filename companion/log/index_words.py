"""Words that a person looks for, as the full-text search takes them."""

from __future__ import annotations

import re

QUOTED = re.compile(r'"([^"]*)"?')
"""A phrase in quotation marks; the last one may be left open."""

WORD = re.compile(r"\w+", re.UNICODE)

BEGIN, END = "\x02", "\x03"
"""Around what was found in a snippet: no words have them."""

AROUND = 14
"""Words in a snippet."""


def match_of(words: str) -> str | None:
    """Return the expression for FTS5 that finds what has all these words, in any order.

    Words in quotation marks must stand together. The last word may be the beginning of one, since
    whoever looks may be in the middle of typing it.

    Args:
        words: As typed; nothing in them is taken for an operator.

    Returns:
        The expression, or None where there is no word to look for.
    """
    phrases = [found[1] for found in QUOTED.finditer(words)]
    loose = WORD.findall(QUOTED.sub(" ", words))
    terms = [_phrase(WORD.findall(phrase)) for phrase in phrases if WORD.search(phrase)]
    terms += [_phrase([word]) for word in loose]
    if not terms:
        return None
    if loose and not words.rstrip().endswith('"'):
        terms[-1] += "*"
    return " AND ".join(terms)


def pieces_of(snippet: str) -> tuple[tuple[str, bool], ...]:
    """Cut a snippet into pieces, each with whether it is one of the words looked for."""
    pieces: list[tuple[str, bool]] = []
    for number, part in enumerate(snippet.split(BEGIN)):
        found, _, rest = part.partition(END) if number else ("", "", part)
        if found:
            pieces.append((found, True))
        if rest:
            pieces.append((rest, False))
    return tuple(pieces)


def _phrase(words: list[str]) -> str:
    return '"' + " ".join(words) + '"'
