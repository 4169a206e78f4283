"""Events of a long day in little memory."""

from __future__ import annotations

from functools import cache
from typing import Any, get_args, get_origin

from pydantic import BaseModel

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
    held = event.__dict__
    for name in _models_in(type(event)):
        value = held.get(name)
        if isinstance(value, BaseModel):
            _share(value)


@cache
def _models_in(kind: type[BaseModel]) -> tuple[str, ...]:
    """Fields of a kind of event that may be models: to ask that of each value takes longer than to
    make most events."""
    return tuple(name for name, field in kind.model_fields.items() if _may_be(field.annotation))


def _may_be(annotation: Any) -> bool:
    """Whether a value of this type may be a model; what is in a tuple is none of the event's."""
    if get_origin(annotation) is tuple:
        return False
    inner = get_args(annotation)
    if inner:
        return any(map(_may_be, inner))
    return isinstance(annotation, type) and issubclass(annotation, BaseModel)


def _share(value: BaseModel) -> None:
    given = value.__pydantic_fields_set__
    shared = _GIVEN.setdefault(frozenset(given), given)
    if shared is not given:
        object.__setattr__(value, "__pydantic_fields_set__", shared)
