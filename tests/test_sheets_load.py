"""Spec sheets: the shipped ones load, and a wrong one is refused with file, line and reason."""

from __future__ import annotations

import json
import tomllib
from decimal import Decimal
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from companion.errors import CompanionError
from companion.job.sheet import SpecSheet
from companion.job.sheet_measures import measures
from companion.shelf.load import SHEETS, load_sheet, sheet_schema, shipped_sheets

GOOD = """\
name = "Trial tiller"
kind = "tiller"

[[reading]]
measure = "gap"
unit = "thou"
low = 28
high = 31.5

[[reading]]
measure = "intake lash"
spoken = ["intake lash", "inlet lash"]
unit = "millimeter"
high = 0.15

[[fluid]]
name = "oil"
capacity = 0.6
unit = "liter"

[[part]]
name = "tine"
plural = ["tines"]
"""


def load_text(tmp_path: Path, text: str) -> SpecSheet:
    path = tmp_path / "sheet.toml"
    path.write_text(text, encoding="utf-8")
    return load_sheet(path)


def test_figures_are_read_as_exact_decimals(tmp_path):
    sheet = load_text(tmp_path, GOOD)
    assert sheet.reading[0].high == Decimal("31.5")
    assert sheet.reading[1].high == Decimal("0.15")
    assert sheet.reading[1].low is None
    assert sheet.fluid[0].capacity == Decimal("0.6")
    assert str(sheet.reading[1].high) == "0.15"


def test_a_measure_nobody_has_a_figure_for_may_be_listed(tmp_path):
    sheet = load_text(tmp_path, GOOD + '[[reading]]\nmeasure = "oil pressure"\nunit = "psi"\n')
    assert (sheet.reading[2].low, sheet.reading[2].high) == (None, None)


@pytest.mark.parametrize(
    ("was", "becomes", "line", "reason"),
    [
        ('kind = "tiller"\n', "", 1, "the file has no 'kind'"),
        ('name = "Trial tiller"', 'name = ""', 1, "'name' is empty"),
        ('kind = "tiller"', "kind = 'tiller", 2, "not valid TOML"),
        ('kind = "tiller"', 'kind = "tiller"\ninvented = "yes indeed"', 3, "'invented' must be"),
        ("[[reading]]", "[[readings]]", 4, "unknown key 'readings'; the keys here are name, kind"),
        ("low = 28", "lo = 28", 7, "unknown key 'lo'; the keys here are measure, unit, low, high"),
        ('unit = "thou"\n', "", 4, "reading 1 has no 'unit'"),
        ("low = 28", "low = 32", 7, "the window is upside down: low is 32 and high is 31.5"),
        ("low = 28", 'low = "twenty"', 7, "'low' must be a number"),
        ("low = 28", "low = nan", 7, "'low' must be a finite number"),
        ("low = 28", "low = [28]", 7, "'low' must be a number"),
        ('unit = "thou"', 'unit = "furlong"', 6, "'furlong' is no unit that a measure can have"),
        ('unit = "thou"', 'unit = "ounce"', 6, "'ounce' is no unit that a measure can have"),
        ('unit = "thou"', 'unit = "gallon"', 6, "'gallon' is no unit that a measure can have"),
        ('unit = "thou"', 'unit = "psi"', 6, "'gap' takes a unit of length, not psi"),
        ('measure = "intake lash"', 'measure = "gap"', 11, "the reading 'gap' is listed twice"),
        ('"inlet lash"', '"Inlet-lash"', 12, "'Inlet-lash' cannot be listened for"),
        ('unit = "liter"', 'unit = "psi"', 19, "'psi' is no unit of volume; the units are ounce"),
        ('unit = "liter"', 'unit = "cup"', 19, "'cup' is no unit of volume"),
        ('unit = "liter"\n', "", 18, "'capacity' needs a 'unit' of volume"),
        ("capacity = 0.6", "capacity = 0", 18, "'capacity' must be above zero"),
        ('name = "tine"', 'name = "tine 2"', 22, "'tine 2' cannot be listened for"),
        ('["tines"]', '["tines", "2 tines"]', 23, "'2 tines' cannot be listened for"),
        ('plural = ["tines"]', 'plural = "tines"', 23, "'plural' must be a list in"),
    ],
)  # fmt: skip
def test_a_wrong_sheet_is_refused_with_line_and_reason(tmp_path, was, becomes, line, reason):
    assert was in GOOD
    with pytest.raises(CompanionError) as refused:
        load_text(tmp_path, GOOD.replace(was, becomes, 1))
    message = str(refused.value)
    assert message.startswith(f"{tmp_path / 'sheet.toml'}:{line}: ")
    assert reason in message
    assert message.endswith(".")
    assert "\n" not in message


def test_a_sheet_that_is_not_there_names_those_that_are():
    with pytest.raises(
        CompanionError, match=r"There is no spec sheet 'x\.toml'; .*quillmoor-tiller"
    ):
        load_sheet("x.toml")


# --- the shipped ones ---------------------------------------------------------------------------


def test_sheets_are_shipped():
    assert set(shipped_sheets()) >= {
        "brackwater-generator",
        "oddlestone-chipper",
        "quillmoor-tiller",
        "saltmere-washer",
        "tarnfield-mower",
        "wrenlow-trimmer",
    }


@pytest.mark.parametrize("name", shipped_sheets())
def test_a_shipped_sheet_loads_and_says_that_it_is_invented(name):
    sheet = load_sheet(name)
    assert sheet.invented
    first_comment = (SHEETS / f"{name}.toml").read_text(encoding="utf-8").split("\n\n")[0]
    assert "Invented" in first_comment
    for figure in (*measures(sheet), *sheet.fluid, *sheet.service):
        assert figure.source != "maker", "an invented machine has no maker"


@pytest.mark.parametrize("name", shipped_sheets())
def test_a_shipped_sheet_survives_the_log_to_the_last_digit(name):
    sheet = load_sheet(name)
    again = SpecSheet.model_validate(json.loads(json.dumps(sheet.model_dump(mode="json"))))
    assert again == sheet
    assert [str(each.low) for each in again.reading] == [str(each.low) for each in sheet.reading]


@pytest.mark.parametrize("name", shipped_sheets())
def test_a_shipped_sheet_fits_the_schema(name):
    schema = sheet_schema()
    Draft202012Validator.check_schema(schema)
    data = tomllib.loads((SHEETS / f"{name}.toml").read_text(encoding="utf-8"))
    Draft202012Validator(schema).validate(data)


# --- what comes back --------------------------------------------------------------------------


def service(item: str) -> str:
    return f'[[service]]\nitem = "{item}"\nwork = "check"\nmonths = 12\n'


@pytest.mark.parametrize(
    "item",
    ["oil", "engine oil", "oil level", "tines", "gap", "spark plug", "drain plugs", "tiller",
     "intake lash", "valve lash", "tines and spark plug"],
)  # fmt: skip
def test_a_service_item_may_be_anything_that_the_sheet_or_every_engine_has(tmp_path, item):
    assert load_text(tmp_path, GOOD + service(item)).service[0].item == item


@pytest.mark.parametrize(
    ("item", "nearest"),
    [
        ("gear oil", "oil"),
        ("coolant level", ""),
        ("tine shaft", "tine"),
        ("drive chain", "drive belt"),
        ("valve clearance", ""),
        ("tines and shear pins", "tines"),
    ],
)
def test_a_service_item_that_the_sheet_does_not_have_is_named(tmp_path, item, nearest):
    with pytest.raises(CompanionError) as refused:
        load_text(tmp_path, GOOD + service(item))
    message = str(refused.value)
    assert message.startswith(
        f"{tmp_path / 'sheet.toml'}:25: the service item '{item}' is not known; "
    )
    assert nearest in message


def test_all_faults_of_a_sheet_are_told_at_once(tmp_path):
    text = GOOD.replace("low = 28", "low = 32").replace("0.6", "0") + service("gear oil")
    with pytest.raises(CompanionError) as refused:
        load_text(tmp_path, text)
    lines = [line.split(": ")[0].rsplit(":", 1)[1] for line in str(refused.value).splitlines()]
    assert lines == ["7", "18", "25"]
