"""Job cards and spec sheets from TOML, checked; what is wrong is told with its line and reason."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from companion.errors import CompanionError
from companion.handbook.units import UNITS, dimension
from companion.job.card import CardStep, JobCard
from companion.job.sheet import SheetModel, SpecReading, SpecSheet
from companion.job.tags import FILLINGS, FITTINGS
from companion.job.toml_lines import Location, TomlLines
from companion.job.words import DIMENSIONS, common_measures

CARDS = Path(__file__).parent / "cards"
"""The job cards that travel with the program."""

SHEETS = Path(__file__).parent / "sheets"
"""The spec sheets that travel with the program."""

HUNG_WITHOUT_A_STEP = frozenset(
    {"fuel off", "no fuel", "blocked up"}
    | {fitting.tag for fitting in FITTINGS}
    | {filling.tag for filling in FILLINGS.values()}
)
"""Tags that calls hang by themselves or that hang on any job, so that a step may clear them."""

_SAID = re.compile(r"[a-z][a-z']*( [a-z][a-z']*)*")
_HYPHENATED = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")

AnyModel = TypeVar("AnyModel", bound=SheetModel)


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong.

    Attributes:
        location: Where, as keys and indices into the data.
        reason: What is wrong and, where it helps, what to write instead; no full stop.
    """

    location: Location
    reason: str


def shipped_cards() -> tuple[str, ...]:
    """Return the names of the job cards that travel with the program."""
    return _names(CARDS)


def shipped_sheets() -> tuple[str, ...]:
    """Return the names of the spec sheets that travel with the program."""
    return _names(SHEETS)


def load_card(source: str | Path) -> JobCard:
    """Load a job card.

    Args:
        source: A TOML file, or the name of a shipped card.

    Raises:
        CompanionError: If it is not there, cannot be read or is wrong, with file, line and reason.
    """
    path = _find(source, CARDS, "job card")
    card, lines = _read(path, JobCard, "job card")
    _refuse(path, lines, [*_card_faults(card)])
    return card


def load_sheet(source: str | Path) -> SpecSheet:
    """Load a spec sheet.

    Args:
        source: A TOML file, or the name of a shipped sheet.

    Raises:
        CompanionError: If it is not there, cannot be read or is wrong, with file, line and reason.
    """
    path = _find(source, SHEETS, "spec sheet")
    sheet, lines = _read(path, SpecSheet, "spec sheet")
    _refuse(path, lines, [*_sheet_faults(sheet)])
    return sheet


def card_schema() -> dict[str, Any]:
    """Return the JSON Schema of a job card."""
    return _schema(JobCard)


def sheet_schema() -> dict[str, Any]:
    """Return the JSON Schema of a spec sheet."""
    return _schema(SpecSheet)


# --- finding and reading ------------------------------------------------------------------------


def _names(folder: Path) -> tuple[str, ...]:
    return tuple(sorted(path.stem for path in folder.glob("*.toml")))


def _find(source: str | Path, folder: Path, what: str) -> Path:
    path = Path(source)
    if path.is_file():
        return path
    if str(source) in _names(folder):
        return folder / f"{source}.toml"
    known = ", ".join(_names(folder))
    if path.is_dir():
        raise CompanionError(
            f"{path} is a folder, not a {what}; give a TOML file or one of: {known}."
        )
    raise CompanionError(f"There is no {what} '{source}'; give a TOML file or one of: {known}.")


def _read(path: Path, model: type[AnyModel], what: str) -> tuple[AnyModel, TomlLines]:
    try:
        data = path.read_bytes()
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise CompanionError(f"{path}: this {what} cannot be read: {reason}.") from error
    try:
        text = data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise CompanionError(f"{path}:{line}: not UTF-8 text; save the file as UTF-8.") from error
    try:
        content = tomllib.loads(text, parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        raise CompanionError(f"{path}:{_not_toml(str(error), text)}") from error
    lines = TomlLines(text)
    try:
        return model.model_validate(content), lines
    except ValidationError as error:
        errors = error.errors()
        # A key that is missing is often there, misspelt: then the misspelt one is what to mend.
        unknown = [each for each in errors if each["type"] == "extra_forbidden"]
        _refuse(path, lines, [_type_fault(model, each) for each in unknown or errors])
        raise


def _not_toml(message: str, text: str) -> str:
    found = re.search(r" \(at (?:line (\d+), column \d+|end of document)\)$", message)
    reason = message[: found.start()] if found else message
    line = int(found[1]) if found and found[1] else _line_left_open(text)
    return f"{line}: not valid TOML: {reason[:1].lower()}{reason[1:]}."


def _line_left_open(text: str) -> int:
    """The line of what is never closed, where the reader only noticed at the end of the file."""
    lines = text.split("\n")
    for count in range(len(lines) - 1, 0, -1):
        try:
            tomllib.loads("\n".join(lines[:count]))
        except tomllib.TOMLDecodeError:
            continue
        return count + 1
    return 1


def _refuse(path: Path, lines: TomlLines, faults: Sequence[Fault]) -> None:
    if not faults:
        return
    first, *others = sorted(faults, key=lambda fault: lines.line_of(fault.location))
    more = f" ({len(others)} more after it)" if others else ""
    raise CompanionError(f"{path}:{lines.line_of(first.location)}: {first.reason}{more}.")


def _schema(model: type[BaseModel]) -> dict[str, Any]:
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **model.model_json_schema(),
    }


# --- keys and types -----------------------------------------------------------------------------


def _type_fault(model: type[BaseModel], error: ErrorDetails) -> Fault:
    location = error["loc"]
    key = next((part for part in reversed(location) if isinstance(part, str)), "this")
    kind = error["type"]
    given = error["input"]
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
    "float_type": "must be a number",
    "float_parsing": "must be a number",
    "model_type": "must be a table with keys of its own",
}
"""By pydantic's kind of error, what to write instead."""


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
    parts = [str(part + 1) if isinstance(part, int) else part for part in location]
    return " ".join(parts) or "the file"


# --- the spec sheet -----------------------------------------------------------------------------


def _sheet_faults(sheet: SpecSheet) -> Iterable[Fault]:
    if not sheet.name.strip():
        yield Fault(("name",), "'name' is empty")
    for index, reading in enumerate(sheet.reading):
        yield from _reading_faults(("reading", index), reading)
    for index, fluid in enumerate(sheet.fluid):
        at: Location = ("fluid", index)
        if fluid.unit is not None and _dimension(fluid.unit) != "volume":
            yield Fault((*at, "unit"), _no_unit_of("volume", fluid.unit))
        if fluid.capacity is not None and fluid.unit is None:
            yield Fault((*at, "capacity"), "'capacity' needs a 'unit' of volume")
        if fluid.capacity is not None and fluid.capacity <= 0:
            yield Fault((*at, "capacity"), "'capacity' must be above zero")
    yield from _name_faults(
        "reading", [(r.measure, r.spoken, ()) for r in sheet.reading], "measure"
    )
    yield from _name_faults("fluid", [(f.name, f.spoken, ()) for f in sheet.fluid])
    for table in ("part", "condition"):
        yield from _name_faults(
            table, [(t.name, t.spoken, t.plural) for t in getattr(sheet, table)]
        )


def _reading_faults(at: Location, reading: SpecReading) -> Iterable[Fault]:
    kind = _dimension(reading.unit)
    wanted = common_measures().get(reading.measure)
    if kind is None or kind not in DIMENSIONS:
        yield Fault(
            (*at, "unit"),
            f"'{reading.unit}' is no unit that a measure can have; the units are "
            + ", ".join(name for name in UNITS if dimension(name) in DIMENSIONS),
        )
    elif wanted is not None and kind != wanted:
        yield Fault(
            (*at, "unit"), f"'{reading.measure}' takes a unit of {wanted}, not {reading.unit}"
        )
    if reading.low is not None and reading.high is not None and reading.low > reading.high:
        yield Fault(
            (*at, "low"),
            f"the window is upside down: low is {reading.low} and high is {reading.high}",
        )


def _dimension(unit: str) -> str | None:
    return dimension(unit) if unit in UNITS else None


def _no_unit_of(kind: str, unit: str) -> str:
    fitting = ", ".join(name for name in UNITS if dimension(name) == kind)
    return f"'{unit}' is no unit of {kind}; the units are {fitting}"


# --- the job card -------------------------------------------------------------------------------


def _card_faults(card: JobCard) -> Iterable[Fault]:
    if not _HYPHENATED.fullmatch(card.name):
        yield Fault(("name",), "'name' must be lower-case words with hyphens between them")
    if not card.step:
        yield Fault((), "the card has no [[step]]")
    for table in ("measure", "fluid", "part", "condition", "tag", "timer"):
        named = [
            (term.name, term.spoken, getattr(term, "plural", ())) for term in getattr(card, table)
        ]
        yield from _name_faults(table, named)
    common = common_measures()
    for index, measure in enumerate(card.measure):
        wanted = common.get(measure.name, measure.dimension)
        if wanted != measure.dimension:
            yield Fault(
                ("measure", index, "dimension"), f"'{measure.name}' is measured in {wanted}"
            )
    measures = {*common, *(measure.name for measure in card.measure)}
    hung: set[str] = set(HUNG_WITHOUT_A_STEP)
    seen: dict[str, int] = {}
    for index, step in enumerate(card.step):
        hung.update(step.hangs)
        yield from _step_faults(index, step, measures, hung)
        if step.name in seen:
            yield Fault(
                ("step", index, "name"),
                f"the name '{step.name}' is that of step {seen[step.name] + 1} already",
            )
        seen.setdefault(step.name, index)
    yield from _order_faults(card.step)


def _step_faults(index: int, step: CardStep, measures: set[str], hung: set[str]) -> Iterable[Fault]:
    at: Location = ("step", index)
    if not _HYPHENATED.fullmatch(step.name):
        yield Fault((*at, "name"), "'name' must be lower-case words with hyphens between them")
    if not step.say.strip():
        yield Fault((*at, "say"), "'say' is empty")
    for place, caution in enumerate(step.cautions):
        if not caution.strip():
            yield Fault((*at, "cautions", place), "the caution is empty")
    for key in ("hangs", "clears", "points"):
        for place, words in enumerate(getattr(step, key)):
            yield from _said_faults((*at, key, place), words)
            if words in getattr(step, key)[:place]:
                yield Fault((*at, key, place), f"'{words}' is listed twice")
    for place, tag in enumerate(step.clears):
        if tag not in hung:
            yield Fault(
                (*at, "clears", place),
                f"nothing hangs the tag '{tag}' before this step; hang it in an earlier one",
            )
    if step.wait is not None:
        yield from _said_faults((*at, "wait", "timer"), step.wait.timer)
        if not 0 < step.wait.minutes < float("inf"):
            yield Fault((*at, "wait", "minutes"), "'minutes' must be above zero")
    for place, measure in enumerate(step.expects):
        if measure not in measures:
            yield Fault(
                (*at, "expects", place),
                f"the measure '{measure}' is not known; list it under [[measure]] with a dimension",
            )


def _order_faults(steps: Sequence[CardStep]) -> Iterable[Fault]:
    place = {step.name: index for index, step in reversed(list(enumerate(steps)))}
    for index, step in enumerate(steps):
        for number, name in enumerate(step.after):
            at: Location = ("step", index, "after", number)
            if name not in place:
                yield Fault(at, f"'after' names '{name}', which is no step of this card")
            elif _comes_after(steps, place, start=name, sought=step.name):
                yield Fault(at, f"'{step.name}' and '{name}' wait for each other")
            elif place[name] > index:
                yield Fault(
                    at, f"'after' names '{name}', which stands later on the card; move it up"
                )


def _comes_after(
    steps: Sequence[CardStep], place: dict[str, int], *, start: str, sought: str
) -> bool:
    """Whether one step waits, directly or through others, for the one sought."""
    waiting, seen = [start], set[str]()
    while waiting:
        name = waiting.pop()
        if name == sought:
            return True
        if name in place and name not in seen:
            seen.add(name)
            waiting.extend(steps[place[name]].after)
    return False


# --- names --------------------------------------------------------------------------------------


def _name_faults(
    table: str,
    named: Sequence[tuple[str, tuple[str, ...], tuple[str, ...]]],
    key: str = "name",
) -> Iterable[Fault]:
    """Names must be sayable, each given once, and no two said alike."""
    meant: dict[str, str] = {}
    for index, (name, spoken, plural) in enumerate(named):
        at: Location = (table, index)
        if name in (each[0] for each in named[:index]):
            yield Fault((*at, key), f"the {table} '{name}' is listed twice")
            continue
        if not name or name != " ".join(name.lower().split()):
            yield Fault((*at, key), f"'{name}' must be in lower case with single spaces")
        elif not spoken:
            yield from _said_faults((*at, key), name)
        for place, words in enumerate(spoken):
            yield from _said_faults((*at, "spoken", place), words)
        for place, words in enumerate(plural):
            yield from _said_faults((*at, "plural", place), words)
        for words in spoken or (name,):
            if meant.setdefault(words, name) != name:
                at_words: Location = (*at, "spoken" if spoken else key)
                yield Fault(at_words, f"'{words}' already means '{meant[words]}'")


def _said_faults(at: Location, words: str) -> Iterable[Fault]:
    if not _SAID.fullmatch(words):
        yield Fault(
            at,
            f"'{words}' cannot be listened for; write lower-case words of letters a to z, "
            "numbers as words",
        )
