"""How alike two words are spelled."""

from __future__ import annotations

from functools import cache


@cache
def likeness(one: str, other: str) -> float:
    """Return the share of letters that need no change, a swap of neighbours counting once; 0 to
    1."""
    from rapidfuzz.distance import OSA

    return OSA.normalized_similarity(one, other)
