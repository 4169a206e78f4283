"""A TOML file of the shelf found, and read into a model; all that is wrong with it told at once."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel

from companion.errors import CompanionError
from companion.files.reading import text_of
from companion.files.toml_lines import TomlLines
from companion.nearest import nearest_words
from companion.shelf.as_written import as_written
from companion.shelf.fault import Fault, WrongFile
from companion.shelf.mended import NAMING, mended_model
from companion.shelf.readable import readable
from companion.shelf.type_faults import number_faults

AnyModel = TypeVar("AnyModel", bound=BaseModel)


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
    near = nearest_words(str(source), names_in(folder))
    raise CompanionError(
        f"There is no {what} '{source}'; give a TOML file or one of: {known}"
        f"{f'; {near}' if near else ''}."
    )


def _nothing(_: BaseModel) -> Iterable[Fault]:
    return ()


def read_model(
    path: Path,
    model: type[AnyModel],
    what: str,
    check: Callable[[AnyModel], Iterable[Fault]] = _nothing,
) -> tuple[AnyModel, TomlLines]:
    """Read a file into a model.

    Args:
        path: The file.
        model: What may stand in it.
        what: What it is, in words.
        check: What can be wrong beyond keys and types.

    Returns:
        The model, and on which line each of its keys stands.

    Raises:
        CompanionError: If it cannot be read.
        WrongFile: If anything is wrong, with line and reason of all of it.
    """
    read = readable(text_of(path, what, named=True))
    if read.content is None or read.lines is None:
        raise WrongFile(path, (), read.faults.items())
    mended = mended_model(model, as_written(model, read.content))
    faults = list(mended.faults)
    if mended.model is not None:
        faults += mended.kept([*number_faults(mended.model), *check(mended.model)])
    # What stood on a line that was left out counts neither as missing nor as unknown.
    left_out = "" in read.keys
    told = [
        (read.lines.line_of(fault.location), fault.reason)
        for fault in faults
        if not (left_out and " has no '" in fault.reason)
        # A file that is partly unreadable is not blamed for missing content.
        and not (read.faults and fault.location == ())
        and not (fault.refers is not None and read.keys & {"", *NAMING})
    ]
    if told or read.faults or mended.model is None:
        raise WrongFile(path, told, read.faults.items(), mended.more)
    return mended.model, read.lines


def schema_of(model: type[BaseModel]) -> dict[str, Any]:
    """Return the JSON Schema of a model."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **model.model_json_schema(),
    }
