"""A call that is said again: both hearings count, and no two wrong ones make a right one."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.grammar.compiled import load_grammar
from companion.intent.decision import (
    HEARD_OTHERWISE,
    HEARD_TWICE,
    Decision,
    Listening,
    decide_utterance,
)
from companion.intent.outcome import Hearing
from companion.intent.thresholds import DEFAULT
from companion.recognize.protocol import Hypothesis, Recognition

GRAMMAR = load_grammar()
KEY_HELD = Listening()


def heard(*hypotheses: tuple[str, float], call: float = 1.0) -> Recognition:
    ranked = tuple(Hypothesis(text, -float(at), sure) for at, (text, sure) in enumerate(hypotheses))
    return Recognition("test", ranked, call, None, 0.0)


def decided(recognition: Recognition, before: Hearing | None = None) -> Decision:
    return decide_utterance(recognition, GRAMMAR, replace(KEY_HELD, before=before))


def said_twice(first: Recognition, second: Recognition) -> Decision:
    return decided(second, decided(first).hearing)


WEAK = (("gap thirty thou", 0.88), ("gap forty four thou", 0.1))


def test_two_weak_hearings_that_agree_are_recorded() -> None:
    assert decided(heard(*WEAK)).outcome == "ask"
    again = said_twice(heard(*WEAK), heard(*WEAK))
    assert (again.outcome, again.text) == ("record", "gap thirty thou")
    assert HEARD_TWICE in again.reasons
    assert again.confidence > 0.95


def test_two_that_disagree_are_asked_about_even_if_the_second_was_clear() -> None:
    first = heard(("gap forty four thou", 0.95), ("gap thirty thou", 0.05))
    clear = heard(("gap thirty thou", 0.98), ("gap forty four thou", 0.02))
    assert decided(clear).outcome == "record"
    again = said_twice(first, clear)
    assert again.outcome == "ask"
    assert HEARD_OTHERWISE in again.reasons
    assert [str(each.model_dump()["value"]) for each in again.intents] == ["30", "44"]
    assert again.figure == "either"


def test_a_clear_second_hearing_decides_where_the_first_was_undecided() -> None:
    first = heard(("gap forty four thou", 0.7), ("gap thirty thou", 0.3))
    clear = heard(("gap thirty thou", 0.97), ("gap forty four thou", 0.03))
    assert decided(first).figure == "either"
    assert said_twice(first, clear) == decided(clear)


def test_another_kind_of_call_is_another_call() -> None:
    first = heard(("play thirty thou", 0.6), ("play forty four thou", 0.3))
    assert said_twice(first, heard(*WEAK)) == decided(heard(*WEAK))


def test_a_call_without_a_number_counts_twice_as_well() -> None:
    weak = heard(("oil level full", 0.88), ("oil level low", 0.03))
    assert decided(weak).outcome == "ask"
    assert said_twice(weak, weak).outcome == "record"


def test_what_was_perhaps_no_call_is_one_when_it_is_said_twice() -> None:
    weak = heard(("gap thirty thou", 0.99), call=DEFAULT.clear_number - 0.03)
    assert decided(weak).reasons == ("may be no call",)
    assert said_twice(weak, weak).outcome == "record"
    talk = heard(("gap thirty thou", 0.99), call=0.1)
    assert said_twice(talk, talk).outcome == "say-again"


# A tag comes down by an "affirm" that was heard, and not by two that were hardly heard.
@pytest.mark.parametrize("answer", ["affirm", "negative", "roger"])
def test_an_answer_never_becomes_surer_by_being_said_again(answer: str) -> None:
    asked = replace(KEY_HELD, answer_awaited=True)
    weak = heard((answer, 0.65), ("note", 0.1))
    before = decide_utterance(weak, GRAMMAR, asked).hearing
    again = decide_utterance(weak, GRAMMAR, replace(asked, before=before))
    assert again.outcome == "say-again"


NUMBERS = ("thirteen", "sixteen", "twenty eight", "thirty", "forty four", "sixty")
CALLS = tuple(f"{what} {number} thou" for what in ("gap", "play") for number in NUMBERS)


@st.composite
def hearings(draw: st.DrawFn) -> Recognition:
    texts = draw(st.lists(st.sampled_from(CALLS), min_size=1, max_size=5, unique=True))
    weights = [draw(st.floats(0.001, 1.0)) ** 3 for _ in texts]
    shares = sorted((weight / sum(weights) for weight in weights), reverse=True)
    sure = draw(st.sampled_from([0.3, 0.87, 0.95, 1.0]))
    return heard(*zip(texts, shares, strict=True), call=sure)


@given(hearings(), hearings())
def test_two_different_hearings_make_nothing_surer(first: Recognition, second: Recognition) -> None:
    alone, again = decided(second), said_twice(first, second)
    if again.outcome != "record":
        return
    assert again.text == second.hypotheses[0].text
    if alone.outcome != "record":
        assert again.text == first.hypotheses[0].text, "both must have heard it best"


@given(hearings(), hearings())
def test_the_second_of_two_that_agree_is_never_asked_about_for_the_first(
    first: Recognition, second: Recognition
) -> None:
    if first.hypotheses[0].text == second.hypotheses[0].text:
        alone, again = decided(second), said_twice(first, second)
        if alone.outcome == "record":
            assert again == alone


@given(hearings(), hearings())
def test_what_is_heard_best_now_is_asked_about_first(
    first: Recognition, second: Recognition
) -> None:
    again = said_twice(first, second)
    if again.outcome == "ask":
        assert again.text == second.hypotheses[0].text
