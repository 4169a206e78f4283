"""Turns numbers, units and words of a file as people write them into the form of the models.

Whatever a typed call takes is taken here too: "inches", "ft-lb", "RPM", "oz" for the unit's name,
".028", "0,028", "3,600", "5 3/8" and "½" in quotes for the number, "Four Stroke" for one of several
words. Anything else stays as it was written, and is reported as a fault.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any, get_args

from pydantic import BaseModel

from companion.handbook.unit_table import MEASURE_DIMENSIONS, UNITS
from companion.handbook.units import UnknownUnit, units_typed
from companion.job.card import JobCard, StepWindow
from companion.job.sheet import SpecBelt, SpecFluid, SpecReading, SpecSheet, SpecTire, SpecTorque
from companion.shelf.common import common_measures
from companion.shelf.figures import number_as_written
from companion.shelf.type_faults import model_within, words_allowed

_KIND_OF_TABLE: Mapping[type[BaseModel], str] = {
    SpecFluid: "volume",
    SpecTorque: "torque",
    SpecTire: "pressure",
    SpecBelt: "length",
}
"""By table, the dimension of its unit, where the table alone decides it."""

_NUMBERS = (Decimal, int, float)


def as_written(model: type[BaseModel], content: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a file holds with its numbers, units and words as the model has them.

    Args:
        model: What may stand in the file.
        content: As it was read. Of whatever shape: what does not fit the model is left alone.
    """
    measured = _measures_named(content) if model in (JobCard, SpecSheet) else {}
    return _table(model, content, measured)


def unit_as_written(text: str, kind: str | None) -> str:
    """Return the name of the unit that is meant, or the text where it is none.

    Args:
        text: As it was written.
        kind: What it measures, where that is known: "oz" is of volume for a fluid.
    """
    try:
        units = units_typed(text)
    except UnknownUnit:
        # On a page "A" is a unit; in a call it is a word.
        units = [each for each in UNITS.values() if each.symbol == text.strip()]
    if not units:
        return text
    fitting = [each for each in units if each.dimension == kind]
    usual = [each for each in units if each.dimension in MEASURE_DIMENSIONS]
    return (fitting or usual or units)[0].name


def _table(
    model: type[BaseModel], content: Mapping[str, Any], measured: Mapping[str, str]
) -> dict[str, Any]:
    return {
        key: _value(model, key, value, content, measured)
        if isinstance(key, str) and key in model.model_fields
        else value
        for key, value in content.items()
    }


def _value(
    model: type[BaseModel],
    key: str,
    value: Any,
    around: Mapping[str, Any],
    measured: Mapping[str, str],
) -> Any:
    annotation = model.model_fields[key].annotation
    within = model_within(annotation)
    if within is not None:
        if isinstance(value, dict):
            return _table(within, value, measured)
        if isinstance(value, list):
            return [
                _table(within, each, measured) if isinstance(each, dict) else each for each in value
            ]
        return value
    if isinstance(value, list):
        allowed = words_allowed(annotation)
        return [_word(each, allowed) if isinstance(each, str) else each for each in value]
    if not isinstance(value, str):
        return value
    if key == "unit":
        return unit_as_written(value, _kind(model, around, measured))
    if _is_number(annotation):
        number = number_as_written(value)
        return value if number is None else number
    return _word(value, words_allowed(annotation))


def _kind(
    model: type[BaseModel], around: Mapping[str, Any], measured: Mapping[str, str]
) -> str | None:
    """The dimension of a table's unit, where something tells it."""
    if model in (SpecReading, StepWindow):
        name = around.get("measure")
        return measured.get(name) if isinstance(name, str) else None
    return _KIND_OF_TABLE.get(model)


def _measures_named(content: Mapping[str, Any]) -> dict[str, str]:
    """The dimension of each known measure, a card's own measures among them."""
    own = content.get("measure")
    return {
        **common_measures(),
        **{
            each["name"]: each["dimension"]
            for each in (own if isinstance(own, list) else ())
            if isinstance(each, dict)
            and isinstance(each.get("name"), str)
            and isinstance(each.get("dimension"), str)
        },
    }


def _is_number(annotation: Any) -> bool:
    if annotation in _NUMBERS:
        return True
    return any(_is_number(each) for each in get_args(annotation) if not isinstance(each, str))


def _word(value: str, allowed: tuple[str, ...]) -> str:
    """The one of several words that is meant, whatever its case, spaces, hyphens and figures."""
    return next((each for each in allowed if _bare(each) == _bare(value)), value)


def _bare(words: str) -> str:
    plain = re.sub(r"[\s_-]+", " ", words.lower()).strip()
    return re.sub(r"\b[24]\b", lambda found: {"2": "two", "4": "four"}[found[0]], plain)
