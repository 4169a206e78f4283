"""Words from a file of others as they may stand on a terminal."""

from __future__ import annotations


def shown(text: str, longest: int) -> str:
    """Return text without anything that a terminal takes for an order, cut where it is too long."""
    plain = "".join(sign if sign.isprintable() else "\ufffd" for sign in text)
    return plain if len(plain) <= longest else f"{plain[: longest - 1]}…"
