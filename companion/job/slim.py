"""Events of a long day in little memory."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from pydantic import BaseModel

_PLAIN = frozenset({str, int, float, bool, tuple, type(None), Decimal, datetime})

_GIVEN: dict[frozenset[str], set[str]] = {}
"""The sets of given fields, one for all values that have the same."""


def slim(event: BaseModel) -> None:
    """Let an event share with others what is the same in all of them.

    pydantic keeps with each value a set of the fields that were given, which takes as much memory
    as the fields themselves. Nothing here asks for that set, and nothing changes it: a copy has its
    own.

    Args:
        event: Just made, or read back.
    """
    _share(event)
    for value in event.__dict__.values():
        # Asking of each text whether it is a model would take longer than making most events.
        if type(value) not in _PLAIN and isinstance(value, BaseModel):
            _share(value)


def _share(value: BaseModel) -> None:
    given = value.__pydantic_fields_set__
    shared = _GIVEN.setdefault(frozenset(given), given)
    if shared is not given:
        object.__setattr__(value, "__pydantic_fields_set__", shared)
