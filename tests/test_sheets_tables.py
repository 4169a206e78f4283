"""Spec sheets: every table of a full sheet, and what is refused in each, with line and reason."""

from __future__ import annotations

from decimal import Decimal
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.errors import CompanionError
from companion.job.sheet import SpecFluid, SpecGrade, SpecReading, SpecSheet
from companion.job.sheet_measures import measure_named, measures, not_known
from companion.shelf.load import load_sheet
from companion.shelf.sheet_faults import sheet_faults
from companion.shelf.threads import is_thread

# An invented machine.
FULL = """\
name = "Ferrowick trial mower"
kind = "walk-behind mower"
[identification]
maker = "Ferrowick"
model = "F 21"
serial_place = "left of the deck, under the flap"
year = 2019
cycle = "four-stroke"

[[reading]]
measure = "intake clearance"
unit = "thou"
low = 4
high = 6
engine = "cold"
condition = "a quarter inch past top dead center"

[[reading]]
measure = "oil temperature"
unit = "celsius"

[[fluid]]
name = "oil"
capacity = 20
unit = "us ounce"
check = "dipstick"
[[fluid.grades]]
grade = "5W-30"
high = 4
[[fluid.grades]]
grade = "SAE 30"
low = 4
high = 38

[[fluid]]
name = "fuel"
mix = 50

[[torque]]
fastener = "head bolt"
spoken = ["head bolt", "cylinder head bolt"]
unit = "foot pound"
low = 18
high = 22
thread = "3/8-16"
grade = "grade 5"
condition = "dry"
count = 8
order = "crosswise, in two passes"

[[tire]]
name = "front tire"
size = "11x4.00-5"
low = 12
high = 16

[[belt]]
name = "drive belt"
size = "A38"
low = 0.375
high = 0.5

[[belt]]
name = "reverse belt"

[battery]
volts = 12
ampere_hours = 18
type = "absorbed glass mat"

[[service]]
item = "engine oil"
work = "change"
first_hours = 5
hours = 50
season = "end"
"""


def load_text(tmp_path: Path, text: str) -> SpecSheet:
    path = tmp_path / "sheet.toml"
    path.write_text(text, encoding="utf-8")
    return load_sheet(path)


def test_torques_tires_and_belts_are_measured_like_anything_else(tmp_path: Path) -> None:
    sheet = load_text(tmp_path, FULL)
    assert [each.measure for each in measures(sheet)] == [
        "intake clearance",
        "oil temperature",
        "head bolt torque",
        "front tire pressure",
        "drive belt deflection",
    ]
    torque = measure_named(sheet, "head bolt torque")
    assert torque == SpecReading(
        measure="head bolt torque",
        unit="foot pound",
        low=Decimal(18),
        high=Decimal(22),
        condition="dry",
        spoken=("head bolt torque", "cylinder head bolt torque"),
    )


def test_a_deflection_may_be_called_something_else(tmp_path: Path) -> None:
    named = 'name = "drive belt"\ndeflection = "belt deflection"'
    sheet = load_text(tmp_path, FULL.replace('name = "drive belt"', named))
    assert measure_named(sheet, "belt deflection") is not None
    assert measure_named(sheet, "drive belt deflection") is None


def test_what_nobody_knows_is_listed(tmp_path: Path) -> None:
    assert not_known(load_text(tmp_path, FULL)) == ("oil temperature", "fuel capacity")


def test_a_sheet_of_before_these_tables_still_loads() -> None:
    # As the log of an older session keeps it.
    kept = {"name": "Old tiller", "kind": "tiller", "fluid": [{"name": "oil", "grade": "SAE 30"}]}
    sheet = SpecSheet.model_validate(kept)
    assert (sheet.torque, sheet.battery, sheet.identification.year) == ((), None, None)
    assert not list(sheet_faults(sheet))


@pytest.mark.parametrize(
    ("was", "becomes", "at", "reason"),
    [
        ("maker =", "brand =", "brand =", "unknown key 'brand'; the keys here are maker, model"),
        ("year = 2019", "year = 19", "year = 19", "19 is no year of make"),
        ("year = 2019", 'year = "new"', "year =", "'year' must be a whole number"),
        ('cycle = "four-stroke"', 'cycle = "4T"', "cycle", "'cycle' is '4T' but must be one of"),
        ('engine = "cold"', 'engine = "warm"', "engine =", "must be one of 'cold' or 'hot'"),
        ('check = "dipstick"', 'check = "eye"', "check", "'check' is 'eye' but must be one of"),
        ("mix = 50", "mix = 0", "mix", "'mix' must be above zero"),
        ('grade = "5W-30"', 'grade = " "', 'grade = " "', "'grade' is empty"),
        ("low = 4\nhigh = 38", "low = 38\nhigh = 4", 30, "the range is upside down: low is 38"),
        ("low = 4\nhigh = 38", "low = 2\nhigh = 38", 30, "'5W-30' and 'SAE 30' overlap"),
        ("low = 4\nhigh = 38", "high = 38", 30, "'5W-30' and 'SAE 30' overlap"),
        ("low = 4\nhigh = 38", "low = 6", 30, "there is no grade from 4 to 6"),
        ("high = 38", 'high = 38\nunit = "fahrenheit"', 30, "are in different units"),
        ("high = 38", 'high = 38\nunit = "kelvin"', "unit = \"kelvin", "must be one of 'celsius'"),
        ("low = 18", "low = 23", "low = 23", "upside down: low is 23 and high is 22"),
        ('unit = "foot pound"', 'unit = "psi"', 'unit = "psi"', "'psi' is no unit of torque"),
        ('"3/8-16"', '"three eighths"', "thread", "cannot be read as a thread; write it like"),
        ('"3/8-16"', '"10-24"', "thread", "'10-24' cannot be read as a thread"),
        ('"3/8-16"', '"M8x9"', "thread", "'M8x9' cannot be read as a thread"),
        ('"grade 5"', '"grade 4"', "grade 4", "'grade 4' is no grade of a fastener; the grades"),
        ('"dry"', '"greasy"', "greasy", "'condition' is 'greasy' but must be one of"),
        ("count = 8", "count = 0", "count", "'count' must be above zero"),
        ('name = "front tire"', 'name = "tire 2"', 52, "'tire 2' cannot be listened for"),
        ("low = 12\n", "low = -12\n", "low = -12", "'low' must not be below zero"),
        ("low = 12\n", "low = 17\n", "low = 17", "the window is upside down"),
        ("low = 0.375", 'unit = "bar"\nlow = 0.375', 'unit = "bar"', "no unit of length"),
        ('name = "reverse belt"', 'name = "drive belt"', 64, "'drive belt' is listed twice"),
        ("volts = 12", "volts = 0", "volts", "'volts' must be above zero"),
        ("ampere_hours = 18", "ampere_hours = -1", "ampere_hours", "must be above zero"),
        ("hours = 50", "hours = 0", "hours = 0", "'hours' must be above zero"),
        ("first_hours = 5", "first_hours = 0", "first_hours", "'first_hours' must be above zero"),
        ('season = "end"', "months = 0", "months", "'months' must be above zero"),
        ('season = "end"', 'season = "May"', "season", "'season' is 'May' but must be one of"),
        ('work = "change"\n', "", 71, "service 1 has no 'work'"),
        ('work = "change"', 'work = ""', "work", "'work' is empty"),
    ],
)  # fmt: skip
def test_a_wrong_figure_is_refused_with_line_and_reason(
    tmp_path: Path, was: str, becomes: str, at: str | int, reason: str
) -> None:
    assert was in FULL
    text = FULL.replace(was, becomes, 1)
    line = at if isinstance(at, int) else text[: text.index(at)].count("\n") + 1
    with pytest.raises(CompanionError) as refused:
        load_text(tmp_path, text)
    message = str(refused.value)
    assert reason in message, message
    assert message.startswith(f"{tmp_path / 'sheet.toml'}:{line}: "), message
    assert "\n" not in message


@pytest.mark.parametrize(
    ("more", "reason"),
    [
        ('[[service]]\nitem = "engine oil"\nwork = "change"\nhours = 9\n', "is listed twice"),
        ('[[service]]\nitem = "chain"\nwork = "oil"\n', "this service has no interval"),
        ('[[torque]]\nfastener = "head bolt"\nunit = "newton meter"\n', "listed twice"),
        ('[[fluid]]\nname = "oil"\n', "the fluid 'oil' is listed twice"),
        ('[[reading]]\nmeasure = "head bolt torque"\nunit = "inch pound"\n', "is a measure of"),
        ('[[reading]]\nmeasure = "drive belt deflection"\nunit = "inch"\n', "is a measure of"),
        ('[[reading]]\nmeasure = "front tire pressure"\nunit = "bar"\n', "is a measure of"),
        ('[[belt]]\nname = "fan belt"\ndeflection = "compression"\nlow = 1\n', "takes a unit of"),
    ],
)  # fmt: skip
def test_what_is_given_twice_or_never_is_refused(tmp_path: Path, more: str, reason: str) -> None:
    with pytest.raises(CompanionError, match=reason):
        load_text(tmp_path, FULL + more)


@pytest.mark.parametrize(
    "text", ["3/8-16", "1/4-28", "5/16", "#10-24", "#8-32", "M8", "M8x1.25", "M14x1.25", "M10x1"]
)
def test_threads_as_makers_write_them_are_read(text: str) -> None:
    # Designations of ASME B1.1 and ISO 261; M14x1.25 is that of most spark plugs (ISO 28741).
    assert is_thread(text)


@pytest.mark.parametrize(
    "text", ["", "8-32", "#14-20", "3/0-16", "0-16", "3/8-0", "M8x0", "M0", "8 mm", "M8x8", "3/8-1"]
)
def test_what_is_no_thread_is_not(text: str) -> None:
    assert not is_thread(text)


@given(st.lists(st.integers(-40, 50), min_size=2, max_size=5, unique=True), st.randoms())
def test_ranges_that_meet_are_taken_in_any_order_and_any_other_is_not(
    ends: list[int], random: object
) -> None:
    ends = sorted(ends)
    grades = [
        SpecGrade(grade=f"grade from {low}", low=Decimal(low), high=Decimal(high))
        for low, high in pairwise(ends)
    ]
    random.shuffle(grades)  # type: ignore[attr-defined]

    def faults(grades: list[SpecGrade]) -> int:
        fluid = SpecFluid(name="oil", grades=tuple(grades))
        return len(list(sheet_faults(SpecSheet(name="x", kind="y", fluid=(fluid,)))))

    assert faults(grades) == 0
    if len(grades) > 2:
        middle = sorted(grades, key=lambda grade: grade.low or 0)[1]
        assert faults([grade for grade in grades if grade is not middle]) == 1
    assert faults([*grades, grades[0]]) > 0
