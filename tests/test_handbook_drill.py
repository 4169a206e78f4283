"""The drill for a tap."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.handbook.answer import NotInHandbook
from companion.handbook.drill import (
    MACHINE_SCREWS,
    METRIC_TAP_DRILLS,
    drill_for,
    machine_screw,
)
from companion.handbook.drill_sizes import INCH_STOCK, METRIC_STOCK
from companion.handbook.thread import (
    METRIC_COARSE,
    METRIC_FINE,
    UNIFIED_COARSE,
    UNIFIED_FINE,
)

EVERY_INCH_THREAD = [
    *((size, Fraction(n)) for sizes in (UNIFIED_COARSE, UNIFIED_FINE) for size, n in sizes.items()),
    *((machine_screw(k), Fraction(n)) for k, both in MACHINE_SCREWS.items() for n in both),
]
EVERY_METRIC_THREAD = [
    *METRIC_COARSE.items(),
    *((size, pitch) for size, pitches in METRIC_FINE.items() for pitch in pitches),
]


def test_how_it_is_said():
    assert drill_for(Decimal("0.375"), "inch", Decimal(16)).text == (
        "5/16 inch drill for 3/8-16, 77 percent of thread. Or 8 millimeters."
    )
    assert drill_for(Decimal(8), "millimeter").text == (
        "6.8 millimeter drill for M8, 74 percent of thread. Or letter H."
    )
    assert drill_for(Decimal("0.19"), "inch", Decimal(24)).text == (
        "Number 25 drill for number 10, 24 threads, 75 percent of thread. Or 3.8 millimeters."
    )


def test_the_coarse_thread_is_meant_when_none_is_said():
    assert drill_for(Decimal("0.375"), "inch").thread == "3/8-16"
    assert drill_for(Decimal(10), "millimeter").thread == "M10x1.5"
    assert drill_for(machine_screw(10), "inch").thread == "#10-24"


@pytest.mark.parametrize(("size", "threads"), EVERY_INCH_THREAD)
def test_every_inch_thread_gets_a_stock_drill_that_leaves_a_good_thread(size, threads):
    answer = drill_for(size, "inch", threads)
    assert answer.drill in {drill.said for drill in INCH_STOCK}
    # Charts keep between about 65 and 80 percent (common practice).
    assert 64 <= answer.percent <= 81
    assert answer.other_drill in {None, *(drill.said for drill in METRIC_STOCK)}


@pytest.mark.parametrize(("size", "pitch"), EVERY_METRIC_THREAD)
def test_every_metric_thread_is_in_the_table_and_leaves_a_good_thread(size, pitch):
    assert (size, pitch) in METRIC_TAP_DRILLS
    answer = drill_for(size, "millimeter", pitch)
    assert answer.drill in {drill.said for drill in METRIC_STOCK}
    assert 70 <= answer.percent <= 80
    # Diameter less pitch is the rule of thumb (common practice).
    assert abs(answer.diameter - (Decimal(float(size)) - Decimal(float(pitch)))) <= Decimal("0.06")


@given(
    st.one_of(
        st.tuples(st.just("inch"), st.sampled_from(EVERY_INCH_THREAD)),
        st.tuples(st.just("millimeter"), st.sampled_from(EVERY_METRIC_THREAD)),
    ),
    st.integers(50, 84),
)
def test_more_thread_wants_a_smaller_hole(thread, percent):
    unit, (size, pitch) = thread
    less, more = (drill_for(size, unit, pitch, Decimal(p)) for p in (percent, percent + 1))
    assert more.wanted < less.wanted < Decimal(float(size))
    assert more.diameter <= less.diameter
    assert more.percent >= less.percent


@pytest.mark.parametrize("percent", ["0", "-75", "49", "86", "100", "NaN"])
def test_a_thread_that_strips_or_breaks_the_tap_is_refused(percent):
    with pytest.raises(NotInHandbook, match="50 to 85 percent of thread"):
        drill_for(Decimal(8), "millimeter", percent=Decimal(percent))


@pytest.mark.parametrize(
    ("size", "unit", "pitch", "sentence"),
    [
        ("0.19", "inch", "20", "it has #10-24 and #10-32"),
        ("0.375", "inch", "20", "it has 3/8-16 and 3/8-24"),
        ("9", "millimeter", None, "no M9 bolt"),
        ("0", "inch", None, "no 0 inch bolt"),
        ("-0.375", "inch", "16", "no -3/8 inch bolt"),
        ("5000", "inch", "16", "no 5000 inch bolt"),
    ],
)
def test_threads_that_are_not_standard_get_a_sentence(size, unit, pitch, sentence):
    with pytest.raises(NotInHandbook, match=sentence):
        drill_for(Decimal(size), unit, pitch and Decimal(pitch))


def test_number_sizes_are_those_of_the_standard():
    # ASME B1.1: #4 is 0.112, #10 is 0.190, #12 is 0.216 inch.
    assert [float(machine_screw(n)) for n in (4, 10, 12)] == [0.112, 0.190, 0.216]
    with pytest.raises(NotInHandbook, match="no #7 machine screw"):
        machine_screw(7)
