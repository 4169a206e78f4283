"""What the handbook gives: a short text to say or print, its source, and the numbers behind it."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from decimal import Decimal
from typing import Any


@dataclass(frozen=True, slots=True)
class HandbookAnswer:
    """An answer; each topic adds its numbers.

    Attributes:
        text: One or two short sentences as a person would say them, digits and symbols in them.
        source: The standard or table, or "common practice".
        note: What the answer takes for granted and what to mind, for the page; too long to speak.
    """

    text: str
    source: str
    note: str = field(default="", kw_only=True)

    def as_json(self) -> dict[str, Any]:
        """Return every field in types that JSON has; exact decimals become strings."""
        return {field.name: _plain(getattr(self, field.name)) for field in fields(self)}


class NotInHandbook(ValueError):
    """Asked for something that the tables do not hold; the message is one plain sentence to say."""


def _plain(value: Any) -> Any:
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    return value
