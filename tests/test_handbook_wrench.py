"""Which wrench fits a hex bolt."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from companion.handbook.answer import NotInHandbook
from companion.handbook.thread import METRIC_COARSE, UNIFIED_COARSE
from companion.handbook.wrench import wrench_for

# ASME B18.2.1 (heads of hex cap screws) and B18.2.2 (hex nuts), from memory.
INCH = [
    ("1/4", "7/16", "7/16"), ("5/16", "1/2", "1/2"), ("3/8", "9/16", "9/16"),
    ("7/16", "5/8", "11/16"), ("1/2", "3/4", "3/4"), ("9/16", "13/16", "7/8"),
    ("5/8", "15/16", "15/16"), ("3/4", "1 1/8", "1 1/8"), ("7/8", "1 5/16", "1 5/16"),
    ("1", "1 1/2", "1 1/2"),
]  # fmt: skip

# Widths across flats by ISO 4014/4017 and by DIN 931, as tabulated in hex_head_parameters.csv of
# the parts library bd_warehouse 0.4.0, where each size differs or not.
METRIC = [
    (3, "5.5", "5.5"), (4, "7", "7"), (5, "8", "8"), (6, "10", "10"), (8, "13", "13"),
    (10, "16", "17"), (12, "18", "19"), (14, "21", "22"), (16, "24", "24"), (18, "27", "27"),
    (20, "30", "30"), (22, "34", "32"), (24, "36", "36"),
]  # fmt: skip


@pytest.mark.parametrize(("size", "head", "nut"), INCH)
def test_inch_bolts(size, head, nut):
    answer = wrench_for(Fraction(size), "inch")
    assert (answer.width, answer.nut_width, answer.unit) == (head, nut, "inch")
    assert ("Its nut takes" in answer.text) == (head != nut)


@pytest.mark.parametrize(("size", "iso", "din"), METRIC)
def test_metric_bolts_say_both_standards_where_they_differ(size, iso, din):
    answer = wrench_for(Decimal(size), "millimeter")
    assert answer.width == iso
    assert answer.older_width == (None if din == iso else din)
    assert ("older DIN" in answer.text) == (din != iso)


def test_every_bolt_that_has_a_torque_has_a_wrench():
    for sizes, unit in ((UNIFIED_COARSE, "inch"), (METRIC_COARSE, "millimeter")):
        for size in sizes:
            assert wrench_for(size, unit).width


def test_how_it_is_said():
    assert wrench_for(Decimal("0.375"), "inch").text == "9/16 inch wrench for a 3/8 inch bolt."
    assert wrench_for(Decimal(10), "millimeter").text == (
        "16 millimeter wrench for M10. To the older DIN standard it is 17."
    )


@pytest.mark.parametrize(("size", "unit"), [("0.3", "inch"), ("9", "millimeter"), ("0", "inch")])
def test_unknown_sizes_get_a_sentence(size, unit):
    with pytest.raises(NotInHandbook, match=r"The handbook has no .* bolt; it has"):
        wrench_for(Decimal(size), unit)
