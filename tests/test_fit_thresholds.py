"""Thresholds are chosen by what mistakes cost: a wrong value as much as a thousand questions."""

from __future__ import annotations

from companion.intent.thresholds import DEFAULT
from companion.recognize.protocol import Hypothesis, Recognition
from tools.fit_evidence.thresholds import WRONG_VALUE, cheapest, cost_of


def heard(best: str, sure: float, call: float = 0.99) -> Recognition:
    rest = Hypothesis("stand by", -9.0, 1 - sure)
    return Recognition("test", (Hypothesis(best, 0.0, sure), rest), call, None, 0.0)


RIGHT = ("gap thirty thou", heard("gap thirty thou", 0.98))
WRONG = ("gap thirteen thou", heard("gap thirty thou", 0.98))


def test_a_wrong_value_costs_a_thousand_questions() -> None:
    assert cost_of([RIGHT], DEFAULT) == 0
    assert cost_of([WRONG], DEFAULT) == WRONG_VALUE


def test_a_question_is_asked_of_many_rather_than_one_value_be_wrong() -> None:
    found, cost = cheapest([RIGHT] * 60 + [WRONG])
    assert found.number > 0.98
    assert cost < WRONG_VALUE


def test_where_all_is_right_nothing_is_asked() -> None:
    best = Hypothesis("gap thirty thou", 0.0, 0.92)
    doubted = ("gap thirty thou", Recognition("test", (best,), 0.82, None, 0.0))
    found, cost = cheapest([doubted] * 10)
    assert cost == 0
    assert found.number <= 0.92
    assert found.clear_number <= 0.82
