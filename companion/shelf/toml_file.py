"""A TOML file read into a model; what is wrong with it is told with its line and reason."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from companion.errors import CompanionError
from companion.files.figures import number_fault
from companion.files.limits import MOST_TOLD
from companion.files.quoting import quoted, with_short_quotations
from companion.files.toml_lines import Location, TomlLines
from companion.files.toml_text import toml_of

AnyModel = TypeVar("AnyModel", bound=BaseModel)


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong.

    Attributes:
        location: Where, as keys and indices into the data.
        reason: What is wrong and, where it helps, what to write instead; no full stop.
    """

    location: Location
    reason: str


def names_in(folder: Path) -> tuple[str, ...]:
    """Return the names of the TOML files in a folder, in order."""
    return tuple(sorted(path.stem for path in folder.glob("*.toml")))


def find_file(source: str | Path, folder: Path, what: str) -> Path:
    """Return the file that is meant.

    Args:
        source: A file, or the name of one in ``folder``.
        folder: Of those that travel with the program.
        what: What it is, in words.

    Raises:
        CompanionError: If it is not there; names those that are.
    """
    path = Path(source)
    if path.is_file():
        return path
    if str(source) in names_in(folder):
        return folder / f"{source}.toml"
    known = ", ".join(names_in(folder))
    if path.is_dir():
        raise CompanionError(
            f"{path} is a folder, not a {what}; give a TOML file or one of: {known}."
        )
    raise CompanionError(f"There is no {what} '{source}'; give a TOML file or one of: {known}.")


def read_model(path: Path, model: type[AnyModel], what: str) -> tuple[AnyModel, TomlLines]:
    """Read a file into a model.

    Args:
        path: The file.
        model: What may stand in it.
        what: What it is, in words.

    Returns:
        The model, and on which line each of its keys stands.

    Raises:
        CompanionError: If it cannot be read, or a key or type is wrong, with file, line and reason.
    """
    content, lines = toml_of(path, what, named=True)
    try:
        read = model.model_validate(content)
        refuse(path, lines, number_faults(read))
        return read, lines
    except ValidationError as error:
        refuse(path, lines, [type_fault(model, each) for each in _to_mend(error.errors())])
        raise


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


def _to_mend(errors: Sequence[ErrorDetails]) -> list[ErrorDetails]:
    """The errors without those that another one brings with it.

    A key that is missing is often there, misspelt: then the misspelt one is what to mend.
    """
    unknown_in = {each["loc"][:-1] for each in errors if each["type"] == "extra_forbidden"}
    return [
        each for each in errors if each["type"] != "missing" or each["loc"][:-1] not in unknown_in
    ]


def refuse(path: Path, lines: TomlLines, faults: Sequence[Fault]) -> None:
    """Refuse a file with faults.

    Raises:
        CompanionError: With file, line and reason of each, in the order of the file, a line each;
            nothing without any.
    """
    if not faults:
        return
    told = sorted(
        {(lines.line_of(each.location), with_short_quotations(each.reason)) for each in faults}
    )
    more = len(told) - MOST_TOLD
    raise CompanionError(
        "\n".join(
            [
                *(f"{path}:{line}: {reason}." for line, reason in told[:MOST_TOLD]),
                *([f"{path}: {more} more are wrong; mend these first."] if more > 0 else []),
            ]
        )
    )


def schema_of(model: type[BaseModel]) -> dict[str, Any]:
    """Return the JSON Schema of a model."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **model.model_json_schema(),
    }


# --- keys and types -----------------------------------------------------------------------------


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
        allowed = ", ".join(_model_at(model, location[:-1]).model_fields)
        return Fault(location, f"unknown key '{key}'; the keys here are {allowed}")
    if kind == "missing":
        where = _described(location[:-1])
        return Fault(location[:-1], f"{where} has no '{key}'")
    if kind == "literal_error":
        return Fault(
            location, f"'{key}' is '{given}' but must be one of {error['ctx']['expected']}"
        )
    if kind == "value_error":
        return Fault(location, f"'{key}' {error['ctx']['error']}; write a smaller one")
    if kind in _BOUNDS:
        bound, written = _BOUNDS[kind]
        return Fault(location, f"'{key}' {written.format(error['ctx'][bound])}")
    wanted = _WANTED.get(kind, error["msg"][:1].lower() + error["msg"][1:])
    return Fault(location, f"'{key}' {wanted}")


_WANTED = {
    "string_type": "must be text in quotes",
    "tuple_type": "must be a list in square brackets",
    "bool_type": "must be true or false",
    "bool_parsing": "must be true or false",
    "decimal_type": "must be a number",
    "decimal_parsing": "must be a number",
    "finite_number": "must be a finite number",
    "int_type": "must be a whole number",
    "int_parsing": "must be a whole number",
    "int_from_float": "must be a whole number",
    "float_type": "must be a number",
    "float_parsing": "must be a number",
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


def _model_at(model: type[BaseModel], location: Location) -> type[BaseModel]:
    """The model whose keys stand at a location."""
    for part in location:
        if isinstance(part, str):
            model = _model_within(model.model_fields[part].annotation) or model
    return model


def _model_within(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    inner = (_model_within(each) for each in getattr(annotation, "__args__", ()))
    return next((each for each in inner if each is not None), None)


def _described(location: Location) -> str:
    """A location in words: "step 3"."""
    parts = [str(part + 1) if isinstance(part, int) else quoted(part) for part in location]
    return " ".join(parts) or "the file"
