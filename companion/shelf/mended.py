"""A model of a file in spite of what is wrong with its keys and types, so that all else that is
wrong is found in the same reading.

What cannot be read is left out, or stands as ``FILLER`` where it must be there; a key that is
plainly another one, misspelt, is read as that one. The model only serves to look for faults: a file
with any is refused.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from copy import deepcopy
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, Generic, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from companion.files.toml_lines import Location
from companion.nearest import PLAINLY_MEANT, nearest
from companion.shelf.fault import Fault
from companion.shelf.type_faults import (
    MOST_LOOKED_AT,
    model_at,
    model_within,
    type_faults,
    words_allowed,
)

AnyModel = TypeVar("AnyModel", bound=BaseModel)

FILLER = "\ufffc"
"""Stands for a missing text; nobody writes it."""

NAMING = {"name", "measure", "fastener", "deflection"}
"""Keys by which the elements of a table are named elsewhere."""


@dataclass(slots=True)
class Mended(Generic[AnyModel]):
    """What was read.

    Attributes:
        model: The model; None where too little is right.
        faults: What is wrong with keys and types.
        faulted: Where something is wrong or missing, as the model has it.
        more: How many more faults there are than were looked at.
        renamed: By where a key stands in the model, how it is written in the file.
    """

    model: AnyModel | None = None
    faults: list[Fault] = field(default_factory=list)
    faulted: set[Location] = field(default_factory=set)
    more: int = 0
    renamed: dict[Location, str] = field(default_factory=dict)

    def written_at(self, location: Location) -> Location:
        """Return where in the file something of the model stands."""
        return tuple(
            self.renamed.get(location[: place + 1], part) for place, part in enumerate(location)
        )

    def kept(self, faults: Iterable[Fault]) -> list[Fault]:
        """Return those faults that do not merely follow from the keys and types that are wrong."""
        lost = {str(each[0]) for each in self.faulted if each and each[-1] in NAMING}
        lost |= {str(each[0]) for each in self.faulted if len(each) in (1, 2)}
        return [
            Fault(self.written_at(fault.location), fault.reason, fault.refers)
            for fault in faults
            if FILLER not in fault.reason
            and _value(self.model, fault.location) != FILLER
            and fault.refers not in lost
            and not any(_bears_on(each, fault.location) for each in self.faulted)
        ]


def _value(model: Any, location: Location) -> Any:
    """What stands at a location of a model; None where nothing does."""
    for part in location:
        if isinstance(model, tuple) and isinstance(part, int) and part < len(model):
            model = model[part]
        else:
            model = getattr(model, str(part), None)
    return model


def _bears_on(faulted: Location, location: Location) -> bool:
    return location[: len(faulted)] == faulted or location == faulted[:-1]


def mended_model(model: type[AnyModel], content: Mapping[str, Any]) -> Mended[AnyModel]:
    """Read what can be read.

    Args:
        model: What may stand in the file.
        content: As it stands there.
    """
    errors = _errors_of(model, content)
    read: Mended[AnyModel] = Mended()
    if not errors:
        read.model = model.model_validate(content)
        return read
    if len(errors) > MOST_LOOKED_AT:
        read.faults += type_faults(model, errors[:MOST_LOOKED_AT])
        read.more = len(errors) - MOST_LOOKED_AT
        return read
    mended = deepcopy(dict(content))
    left = errors
    # The content of a misspelt key is looked at as well, and may hold further slips.
    while meant := [each for each in left if _renamed(model, mended, each, read)]:
        read.faults += _placed(type_faults(model, meant), read)
        read.faulted |= {each["loc"] for each in meant}
        left = _errors_of(model, mended)
    told = type_faults(model, [each for each in left if each["input"] != FILLER])
    read.faults += _placed(told, read)
    read.faulted |= {each["loc"] for each in left}
    for each in left:
        _fill(model, mended, each)
    if not _errors_of(model, mended):
        read.model = model.model_validate(mended)
    return read


def _errors_of(model: type[BaseModel], content: Mapping[str, Any]) -> list[ErrorDetails]:
    try:
        model.model_validate(content)
    except ValidationError as error:
        return error.errors()
    return []


def _placed(faults: list[Fault], read: Mended[Any]) -> list[Fault]:
    """Faults of the model where they stand in the file."""
    return [Fault(read.written_at(each.location), each.reason) for each in faults]


def _renamed(
    model: type[BaseModel], content: dict[str, Any], error: ErrorDetails, read: Mended[Any]
) -> bool:
    """Read a key that is plainly a misspelling of another one as that one; return whether it
    was."""
    *path, written = error["loc"]
    here = tuple(path)
    table = _at(content, here)
    unknown = error["type"] == "extra_forbidden" and isinstance(written, str)
    if not unknown or not isinstance(table, dict) or written not in table:
        return False
    allowed = [key for key in model_at(model, here).model_fields if key not in table]
    meant = nearest(str(written), allowed, PLAINLY_MEANT)
    if not meant:
        return False
    table[meant[0]] = table.pop(written)
    read.renamed[(*here, meant[0])] = str(written)
    return True


def _at(content: Any, location: Location) -> Any:
    for part in location:
        fits = isinstance(content, dict) or (isinstance(content, list) and isinstance(part, int))
        if not fits:
            return None
        try:
            content = content[part]
        except (KeyError, IndexError):
            return None
    return content


def _fill(model: type[BaseModel], content: dict[str, Any], error: ErrorDetails) -> None:
    """Leave out what is wrong, or put a filler there where something must be."""
    *path, last = error["loc"]
    here = tuple(path)
    around = _at(content, here)
    if isinstance(around, list) and isinstance(last, int) and last < len(around):
        within = model_at(model, here)
        names = [part for part in here if isinstance(part, str)]
        owner = model_at(model, here[: -1 - here[::-1].index(names[-1])] if names else ())
        annotation = owner.model_fields[names[-1]].annotation if names else str
        holds = model_within(annotation)
        around[last] = _filled(within) if holds is not None else _filler_of(annotation)
    elif isinstance(around, dict) and isinstance(last, str):
        field_of = model_at(model, here).model_fields.get(last)
        if field_of is not None and field_of.is_required():
            holds = model_within(field_of.annotation)
            around[last] = _filler_of(field_of.annotation) if holds is None else _filled(holds)
        else:
            around.pop(last, None)


def _filled(model: type[BaseModel]) -> dict[str, Any]:
    filled: dict[str, Any] = {}
    for key, each in model.model_fields.items():
        if each.is_required():
            holds = model_within(each.annotation)
            several = str(each.annotation).startswith("tuple")
            value = _filler_of(each.annotation) if holds is None else _filled(holds)
            filled[key] = [] if several else value
    return filled


def _filler_of(annotation: Any) -> Any:
    allowed = words_allowed(annotation)
    if allowed:
        return allowed[0]
    if annotation is bool:
        return False
    return 1 if annotation in (int, float, Decimal) else FILLER
