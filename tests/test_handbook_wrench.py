"""Which wrench fits a hex bolt.

Every size is checked against the standards in ``tests/outside/tools.py``.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from companion.handbook.answer import NotInHandbook
from companion.handbook.thread import METRIC_COARSE, UNIFIED_COARSE
from companion.handbook.wrench import wrench_for


@pytest.mark.parametrize("size", ["7/16", "9/16"])
def test_a_nut_that_differs_from_its_bolt_is_said(size):
    answer = wrench_for(Fraction(size), "inch")
    assert answer.width != answer.nut_width
    assert answer.text.endswith(f"Its nut takes {answer.nut_width}.")


@pytest.mark.parametrize(("size", "differs"), [(8, False), (10, True), (12, True), (24, False)])
def test_the_older_standard_is_said_where_it_differs(size, differs):
    answer = wrench_for(Decimal(size), "millimeter")
    assert (answer.older_width is not None) == differs
    assert ("older DIN" in answer.text) == differs


def test_every_bolt_that_has_a_torque_has_a_wrench():
    for sizes, unit in ((UNIFIED_COARSE, "inch"), (METRIC_COARSE, "millimeter")):
        for size in sizes:
            assert wrench_for(size, unit).width


def test_how_it_is_said():
    assert wrench_for(Decimal("0.375"), "inch").text == "9/16 inch wrench for a 3/8 inch bolt."
    assert wrench_for(Decimal(10), "millimeter").text == (
        "16 millimeter wrench for M10. To the older DIN standard it is 17."
    )


@pytest.mark.parametrize(
    ("size", "unit", "head", "text"),
    [
        ("8", "millimeter", "flange",
         "10 millimeter wrench for M8 with a flange. With a large one it is 13."),
        ("10", "millimeter", "small", "14 millimeter wrench for M10 with a small head."),
        ("0.25", "inch", "flange", "3/8 inch wrench for 1/4 inch with a flange."),
    ],
)  # fmt: skip
def test_other_heads_are_named(size, unit, head, text):
    answer = wrench_for(Decimal(size), unit, head)
    assert answer.text == text
    assert answer.source.endswith("from memory")


def test_the_note_of_a_usual_head_names_the_others():
    note = wrench_for(Decimal(8), "millimeter").note
    assert note.startswith("Other heads: small flange 10, large flange 13, small head 12.")


@pytest.mark.parametrize(
    ("size", "unit", "head"), [("4", "millimeter", "small"), ("0.375", "inch", "small")]
)
def test_heads_that_are_not_made_get_a_sentence(size, unit, head):
    with pytest.raises(NotInHandbook, match="measure across the flats"):
        wrench_for(Decimal(size), unit, head)


@pytest.mark.parametrize(("size", "unit"), [("0.3", "inch"), ("9", "millimeter"), ("0", "inch")])
def test_unknown_sizes_get_a_sentence(size, unit):
    with pytest.raises(NotInHandbook, match=r"The handbook has no .* bolt; it has"):
        wrench_for(Decimal(size), unit)
