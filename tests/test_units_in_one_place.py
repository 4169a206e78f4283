"""Units stand in one table: what is heard, typed, recorded, said and shown of one is read there."""

from __future__ import annotations

import ast
from decimal import Decimal
from pathlib import Path

import pytest

import companion
from companion.grammar.pronounce import pronunciations
from companion.handbook.unit_table import DIMENSIONS, MEASURE_DIMENSIONS, UNITS
from companion.handbook.units import clock_parts, whose
from companion.job.quantities import quantity
from companion.job.sheet import SpecSheet
from companion.report.figures import figure
from companion.report.sheet_page import sheet_page
from companion.shipped import shipped

PACKAGE = Path(companion.__file__).parent

OF_A_FEW_UNITS = 3
"""So many units named together, and a module has a table of its own."""


def units_named(node: ast.expr) -> set[str]:
    """The units that stand as keys or members of a table written out in the source."""
    members: list[ast.expr | None] = []
    if isinstance(node, ast.Dict):
        members = list(node.keys)
    elif isinstance(node, ast.Set | ast.List | ast.Tuple):
        members = list(node.elts)
    texts = {
        each.value
        for each in members
        if isinstance(each, ast.Constant) and isinstance(each.value, str)
    }
    forms = {form: name for name, unit in UNITS.items() for form in (name, unit.plural)}
    return {forms[text] for text in texts if text in forms}


def test_no_module_has_a_table_of_units_beside_the_one() -> None:
    tables = [
        f"{source.relative_to(PACKAGE)}:{node.lineno} {sorted(named)}"
        for source in PACKAGE.rglob("*.py")
        if source.name != "unit_table.py"
        for node in ast.walk(ast.parse(source.read_text(encoding="utf-8")))
        if isinstance(node, ast.expr) and len(named := units_named(node)) >= OF_A_FEW_UNITS
    ]
    assert tables == []


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        ("16", "foot pound", "16 foot pounds"),
        ("1", "inch", "1 inch"),
        ("0.5", "inch", "0.5 inches"),
        ("30", "thou", "30 thou"),
        ("21", "celsius", "21 celsius"),
        ("20", "us ounce", "20 us ounces"),
        # The plural of a name is not always the name and an "s".
        ("6", "foot", "6 feet"),
        ("8", "horsepower", "8 horsepower"),
        ("2.1", "kilogram per square centimeter", "2.1 kilograms per square centimeter"),
        ("5", "mile per hour", "5 miles per hour"),
        # Of a unit that another version had.
        ("3", "furlong", "3 furlong"),
    ],
)
def test_a_log_shows_a_quantity_in_words(value: str, unit: str, shown: str) -> None:
    assert quantity(Decimal(value), unit) == shown


def test_a_small_length_is_shown_in_thou_beside_millimeters_and_a_long_one_in_inches() -> None:
    assert figure(Decimal("0.8"), "millimeter", "us").also == "31.5 thou"
    assert figure(Decimal("50.8"), "millimeter", "us").also == "2 in"


def test_the_shops_ounce_is_named_and_no_other_unit_changes() -> None:
    assert whose("ounce", "imperial") == "imperial ounce"
    assert whose("us ounce", "imperial") == "us ounce"
    assert whose("thou", "us") == "thou"


@pytest.mark.parametrize(
    ("seconds", "parts"),
    [
        (0.4, []),
        (59.6, [(1, "minute")]),
        (5400, [(1, "hour"), (30, "minute")]),
        (3661, [(1, "hour"), (1, "minute"), (1, "second")]),
    ],
)
def test_a_length_of_time_in_hours_minutes_and_seconds(
    seconds: float, parts: list[tuple[int, str]]
) -> None:
    assert clock_parts(seconds) == parts


def test_every_number_of_a_reading_is_called_by_a_rule_that_is_there() -> None:
    rules = (shipped("grammars") / "numbers.gram").read_text(encoding="utf-8")
    for unit in UNITS.values():
        for rule in unit.read_in:
            assert f"public <{rule}>" in rules, f"{unit.name} is read in {rule}"


def test_every_dimension_of_a_measure_has_units_and_a_place_on_the_page_of_a_sheet() -> None:
    read = {unit.dimension for unit in UNITS.values() if unit.read_in}
    assert read == set(MEASURE_DIMENSIONS)
    for name in MEASURE_DIMENSIONS:
        assert DIMENSIONS[name].heading, f"a sheet's page has no heading for {name}"


def test_a_sheet_with_a_measure_in_hours_is_shown() -> None:
    sheet = SpecSheet.model_validate(
        {
            "name": "Test mower",
            "kind": "invented for this test",
            "reading": [
                {"measure": "engine hours", "unit": "hour", "high": "2000", "source": "invented"}
            ],
        }
    )
    assert "Other measures" in sheet_page(sheet)


def test_a_recognizer_knows_how_every_unit_that_is_called_sounds() -> None:
    for unit in UNITS.values():
        if unit.called:
            for word in " ".join(unit.said).split():
                assert pronunciations(word), f"nobody knows how '{word}' sounds"
