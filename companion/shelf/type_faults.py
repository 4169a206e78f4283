"""Keys and types that do not fit a model, put into words."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, get_args

from pydantic import BaseModel
from pydantic_core import ErrorDetails

from companion.files.figures import number_fault
from companion.files.quoting import quoted
from companion.files.toml_lines import Location
from companion.nearest import nearest_words
from companion.shelf.fault import Fault
from companion.shelf.figures import instead_of_number

MOST_LOOKED_AT = 200
"""Keys and types that are wrong up to which a file is taken for one that a person wrote: of more no
name is looked for, and nothing else. Our own figure."""


def number_faults(model: BaseModel) -> list[Fault]:
    """Return a fault for each number of a model that no measure has: one in quotes is a number
    only once it is in a model."""
    faults = []
    waiting: list[tuple[Location, Any]] = [((), model)]
    while waiting:
        location, value = waiting.pop()
        if isinstance(value, BaseModel):
            waiting += (((*location, key), each) for key, each in value)
        elif isinstance(value, tuple | list):
            waiting += (((*location, place), each) for place, each in enumerate(value))
        elif isinstance(value, dict):
            waiting += (((*location, key), each) for key, each in value.items())
        elif isinstance(value, int | Decimal) and not isinstance(value, bool):
            reason = number_fault(value)
            if reason is not None:
                faults.append(Fault(location, f"'{quoted(location[-1])}' {reason}"))
    return faults


def type_faults(model: type[BaseModel], errors: Sequence[ErrorDetails]) -> list[Fault]:
    """Return what is wrong with keys and types, as pydantic tells it.

    A key that is missing is often there, misspelt: both are then told as one fault.
    """
    unknown = {each["loc"][:-1] for each in errors if each["type"] == "extra_forbidden"}
    missing: dict[Location, list[str]] = {}
    for each in errors:
        if each["type"] == "missing":
            missing.setdefault(each["loc"][:-1], []).append(str(each["loc"][-1]))
    faults = []
    for each in errors:
        here = each["loc"][:-1]
        if each["type"] == "missing" and here in unknown:
            continue
        fault = type_fault(model, each)
        if _WANTED.get(each["type"]) == _A_NUMBER:
            fault = Fault(fault.location, fault.reason + _as_called(each))
        if each["type"] == "extra_forbidden" and here in missing:
            lacking = ", ".join(f"'{key}'" for key in missing.pop(here))
            fault = Fault(fault.location, f"{fault.reason}; {lacking} must be there")
        faults.append(fault)
    return faults


def _as_called(error: ErrorDetails) -> str:
    """What to write for a figure, after "must be a number"."""
    key = str(next((part for part in reversed(error["loc"]) if isinstance(part, str)), "this"))
    written = error["input"]
    instead = instead_of_number(key, written) if isinstance(written, str) else None
    return _AS_CALLED if instead is None else f": {instead}"


def type_fault(model: type[BaseModel], error: ErrorDetails) -> Fault:
    """Return in words what is wrong with the key or type of a value.

    Args:
        model: What may stand in the file.
        error: As pydantic tells it.
    """
    location = error["loc"]
    key = quoted(next((part for part in reversed(location) if isinstance(part, str)), "this"))
    kind = error["type"]
    given = quoted(error["input"])
    if kind == "extra_forbidden":
        allowed = tuple(model_at(model, location[:-1]).model_fields)
        listed = f"unknown key '{key}'; the keys here are {', '.join(allowed)}"
        near = nearest_words(str(location[-1]), allowed, plainly=True)
        return Fault(location, f"{listed}; {near}" if near else listed)
    if kind == "missing":
        where = _described(location[:-1])
        return Fault(location[:-1], f"{where} has no '{key}'")
    if kind == "literal_error":
        listed = f"'{key}' is '{given}' but must be one of {error['ctx']['expected']}"
        near = nearest_words(given, _choices(model, error), plainly=True)
        return Fault(location, f"{listed}; {near}" if near else listed)
    if kind == "value_error":
        return Fault(location, f"'{key}' {error['ctx']['error']}; write a smaller one")
    if kind == "tuple_type" and isinstance(error["input"], dict):
        return Fault(
            location, f"'{key}' must be a list in square brackets: write [[{key}]] for [{key}]"
        )
    if kind in _BOUNDS:
        bound, written = _BOUNDS[kind]
        return Fault(location, f"'{key}' {written.format(error['ctx'][bound])}")
    if kind == "string_type" and type(error["input"]) in (int, Decimal):
        return Fault(location, f"'{key}' must be text in quotes: \"{quoted(str(error['input']))}\"")
    wanted = _WANTED.get(kind, error["msg"][:1].lower() + error["msg"][1:])
    return Fault(location, f"'{key}' {wanted}")


def _choices(model: type[BaseModel], error: ErrorDetails) -> tuple[str, ...]:
    """All that a value may be where it must be one of several words."""
    location = error["loc"]
    names = [part for part in location if isinstance(part, str)]
    field = model_at(model, location[:-1]).model_fields.get(names[-1]) if names else None
    return () if field is None else words_allowed(field.annotation)


def words_allowed(annotation: Any) -> tuple[str, ...]:
    """Return the words of a ``Literal`` in an annotation; none where there is no such."""
    found: list[str] = []
    waiting = [annotation]
    while waiting:
        each = waiting.pop()
        if isinstance(each, str):
            found.append(each)
        else:
            waiting += reversed(get_args(each))
    return tuple(found)


_A_NUMBER = "must be a number"
_A_WHOLE_NUMBER = "must be a whole number"
_AS_CALLED = ': 0.028, or in quotes as it is called, ".028", "0,028" or "5 3/8"'

_WANTED = {
    "string_type": "must be text in quotes",
    "tuple_type": "must be a list in square brackets",
    "bool_type": "must be true or false",
    "bool_parsing": "must be true or false",
    "decimal_type": _A_NUMBER,
    "decimal_parsing": _A_NUMBER,
    "finite_number": "must be a finite number",
    "int_type": _A_WHOLE_NUMBER,
    "int_parsing": _A_WHOLE_NUMBER,
    "int_from_float": _A_WHOLE_NUMBER,
    "float_type": _A_NUMBER,
    "float_parsing": _A_NUMBER,
    "model_type": "must be a table with keys of its own",
    "path_type": "must be text in quotes",
    "string_pattern_mismatch": "must be lower-case words with a space between them",
}
"""By pydantic's kind of error, what to write instead."""

_BOUNDS = {
    "greater_than_equal": ("ge", "must be {} or more"),
    "less_than_equal": ("le", "must be {} or less"),
    "string_too_long": ("max_length", "must have no more than {} letters"),
}
"""By pydantic's kind of error, the bound that was passed and what to write instead."""


def model_at(model: type[BaseModel], location: Location) -> type[BaseModel]:
    """Return the model whose keys stand at a location."""
    for part in location:
        if isinstance(part, str) and part in model.model_fields:
            model = model_within(model.model_fields[part].annotation) or model
    return model


def model_within(annotation: Any) -> type[BaseModel] | None:
    """Return the model that an annotation holds, in a list or alone; None where it holds none."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    inner = (model_within(each) for each in getattr(annotation, "__args__", ()))
    return next((each for each in inner if each is not None), None)


def _described(location: Location) -> str:
    """A location in words: "step 3"."""
    parts = [str(part + 1) if isinstance(part, int) else quoted(part) for part in location]
    return " ".join(parts) or "the file"
