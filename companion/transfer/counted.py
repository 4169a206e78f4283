"""How many of something, in words."""

from __future__ import annotations


def counted(number: int, name: str) -> str:
    """Return "1 session", "31 records"."""
    return f"{number:,} {name}{'' if number == 1 else 's'}"
