"""The figures of the shipped sheets, invented as they are, against standards and practice."""

from __future__ import annotations

import math
import re
from decimal import Decimal

import pytest

from companion.handbook.thread import parse_size
from companion.handbook.torque import torque_for
from companion.handbook.units import convert
from companion.job.sheet import SpecGrade, SpecSheet, SpecTorque
from companion.job.sheet_measures import measure_named
from companion.shelf.load import load_sheet, shipped_sheets

SHEETS = {name: load_sheet(name) for name in shipped_sheets()}
FOUR_STROKE = [
    name for name, sheet in SHEETS.items() if sheet.identification.cycle == "four-stroke"
]
TORQUES = [
    pytest.param(torque, id=f"{name}: {torque.fastener}")
    for name, sheet in SHEETS.items()
    for torque in sheet.torque
    if torque.grade is not None and torque.condition in ("dry", "oiled", "anti seize")
]
GRADES = [
    pytest.param(grade, id=f"{name}: {grade.grade}")
    for name, sheet in SHEETS.items()
    for fluid in sheet.fluid
    for grade in fluid.grades
]

CRANKS_DOWN_TO = {"0W": -35, "5W": -30, "10W": -25, "15W": -20, "20W": -15, "25W": -10}
"""Degrees Celsius of the cold-cranking test by winter grade, SAE J300 (from memory)."""


def window(sheet: SpecSheet, measure: str, unit: str) -> tuple[Decimal, Decimal]:
    found = measure_named(sheet, measure)
    assert found is not None, measure
    assert found.low is not None
    assert found.high is not None
    return convert(found.low, found.unit, unit), convert(found.high, found.unit, unit)


@pytest.mark.parametrize("name", FOUR_STROKE)
def test_a_four_stroke_has_the_usual_gap_lash_and_oil(name: str) -> None:
    # Common practice: plug gap 28 to 31 thou on many small engines; lash of a few thou, cold, the
    # exhaust no tighter than the intake; from half a litre of oil to a litre and a half.
    sheet = SHEETS[name]
    assert window(sheet, "gap", "thou") == (28, 31)
    intake, exhaust = (
        window(sheet, f"{valve} clearance", "thou") for valve in ("intake", "exhaust")
    )
    assert 2 <= intake[0] <= exhaust[0] <= 10
    assert all(
        each.engine == "cold"
        for each in sheet.reading
        if "clearance" in each.measure and each.measure != "knife clearance"
    )
    oil = next(fluid for fluid in sheet.fluid if fluid.name == "oil")
    assert oil.capacity is not None
    assert oil.unit is not None
    assert 500 <= convert(oil.capacity, oil.unit, "milliliter") <= 1500
    assert oil.grades


def test_a_two_stroke_has_oil_in_its_fuel_and_no_sump() -> None:
    sheet = SHEETS["wrenlow-trimmer"]
    assert [fluid.name for fluid in sheet.fluid] == ["fuel"]
    # Common practice: 24 to 26 thou, and 50 to 1.
    assert window(sheet, "gap", "thou") == (24, 26)
    assert sheet.fluid[0].mix == 50


@pytest.mark.parametrize("torque", TORQUES)
def test_no_torque_is_far_above_what_its_bolt_takes(torque: SpecTorque) -> None:
    # T = K D F with F = 75 % of proof load; SAE J429 and ISO 898-1 by way of the handbook, whose
    # table has its own tests.
    assert torque.thread is not None
    assert torque.grade is not None
    size, unit, pitch = parse_size(torque.thread)
    usual = torque_for(Decimal(str(float(size))), unit, torque.grade, torque.condition, pitch=pitch)
    assert torque.high is not None
    assert torque.low is not None
    high = convert(torque.high, torque.unit, "newton meter")
    low = convert(torque.low, torque.unit, "newton meter")
    assert 0.6 * float(usual.newton_meters) <= low < high <= 1.15 * float(usual.newton_meters)


@pytest.mark.parametrize("grade", GRADES)
def test_no_oil_is_asked_for_in_colder_air_than_it_cranks_in(grade: SpecGrade) -> None:
    winter = re.match(r"\d+W", grade.grade)
    assert grade.low is not None
    assert grade.high is not None
    low, high = (convert(end, grade.unit, "celsius") for end in (grade.low, grade.high))
    if winter is None:
        # A single grade has no cranking limit at all: common practice keeps it above freezing.
        assert low > 0
    else:
        assert low >= CRANKS_DOWN_TO[winter[0]]
    assert high <= 50


def test_the_mowers_blade_tip_stays_below_its_limit() -> None:
    # ANSI/OPEI B71.1: 19 000 feet a minute. The deck is 21 inches wide.
    _, most = window(SHEETS["tarnfield-mower"], "engine speed", "rpm")
    assert math.pi * 21 / 12 * float(most) < 19_000


def test_the_generators_speeds_give_its_frequency() -> None:
    # f = n poles / 120: 60 hertz from two poles at 3600 turns a minute.
    low, high = window(SHEETS["brackwater-generator"], "engine speed", "rpm")
    assert low * 2 / 120 < 60 < high * 2 / 120
