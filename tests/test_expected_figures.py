"""What the job expects of a figure has fewer questions asked, and never makes a number right."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.grammar.compiled import load_grammar
from companion.intent.decision import Decision, Listening, decide_utterance
from companion.intent.fitting import MARGIN, MARGIN_KELVINS, ODDS, by_fit, fits
from companion.intent.intents import Reading
from companion.intent.outcome import Expectation
from companion.intent.understood import Understood, exactly
from companion.recognize.protocol import Hypothesis, Recognition

GRAMMAR = load_grammar()
NOTHING = Listening()
PSI = 6894.757
SHEET = Listening(
    expectations={
        "compression": Expectation(low=90 * PSI, high=150 * PSI, unit="Pa"),
        "gap": Expectation(low=0.000711, high=0.000787, unit="m"),
        "play": Expectation(low=None, high=None, unit="m", usual=0.000762),
        "air temperature": Expectation(low=263.15, high=313.15, unit="K"),
    }
)
"""Compression 90 to 150 psi, gap 28 to 31 thou, play last read 30 thou, air -10 to 40 celsius."""


def heard(*hypotheses: tuple[str, float]) -> Recognition:
    ranked = tuple(Hypothesis(text, -float(at), sure) for at, (text, sure) in enumerate(hypotheses))
    return Recognition("test", ranked, 1.0, None, 0.0)


def decided(listening: Listening, *hypotheses: tuple[str, float]) -> Decision:
    return decide_utterance(heard(*hypotheses), GRAMMAR, listening)


def call(text: str, confidence: float) -> Understood:
    found = exactly(text.split(), GRAMMAR, NOTHING, confidence)
    assert found is not None
    return found


def meaning(text: str) -> Reading:
    intent = call(text, 1.0).intents[0]
    assert isinstance(intent, Reading)
    return intent


def test_a_rival_that_cannot_be_meant_is_no_longer_asked_about() -> None:
    alike = (("compression ninety five p s i", 0.92), ("compression nine two five p s i", 0.08))
    assert decided(NOTHING, *alike).outcome == "ask"
    decision = decided(SHEET, *alike)
    assert (decision.outcome, decision.text) == ("record", "compression ninety five p s i")


def test_where_both_are_heard_about_equally_the_question_is_put_all_the_same() -> None:
    alike = (("compression ninety five p s i", 0.6), ("compression nine two five p s i", 0.4))
    assert decided(SHEET, *alike).outcome == "ask"


def test_where_the_sheet_wants_another_it_is_asked_with_what_was_heard_best_first() -> None:
    clear = (("gap fifty thou", 0.98), ("gap thirty thou", 0.02))
    assert decided(NOTHING, *clear).outcome == "record"
    decision = decided(SHEET, *clear)
    assert decision.outcome == "ask"
    assert [str(each.model_dump()["value"]) for each in decision.intents] == ["50", "30"]


def test_between_seventeen_and_seventy_the_sound_alone_decides() -> None:
    wants_forty_fifty = Listening(
        expectations={"idle speed": Expectation(low=60.0, high=75.0, unit="1/min")}
    )
    for listening in (NOTHING, SHEET, wants_forty_fifty):
        decision = decided(listening, ("gap thirty thou", 0.96), ("gap thirteen thou", 0.03))
        assert decision.outcome == "ask"


def test_a_value_far_outside_is_recorded_or_asked_about_as_it_was_called() -> None:
    out = decided(SHEET, ("gap fifty thou", 0.99), ("gap forty thou", 0.004))
    assert (out.outcome, out.text) == ("record", "gap fifty thou")


@pytest.mark.parametrize(
    ("text", "fit"),
    [
        ("gap twenty thou", True),
        ("gap forty six thou", True),
        ("gap fifty thou", False),
        ("gap ten thou", False),
        ("play twenty eight thou", True),
        ("play fifty thou", False),
        ("air temperature fifty five celsius", True),
        ("air temperature minus forty celsius", False),
        ("tire pressure fifteen p s i", None),
    ],
)
def test_a_figure_fits_far_beyond_its_window(text: str, fit: bool | None) -> None:
    assert fits(meaning(text), SHEET) is fit


def test_the_margins_are_generous() -> None:
    assert MARGIN >= 1.5
    assert MARGIN_KELVINS >= 20


NUMBERS = ("ten", "thirteen", "twenty eight", "thirty", "forty four", "fifty", "ninety")
CALLS = tuple(f"{what} {number} thou" for what in ("gap", "play") for number in NUMBERS)


@st.composite
def hearings(draw: st.DrawFn) -> tuple[tuple[str, float], ...]:
    """What an engine may have heard of a call: sentences with shares of one."""
    texts = draw(st.lists(st.sampled_from(CALLS), min_size=1, max_size=5, unique=True))
    weights = [draw(st.floats(0.001, 1.0)) ** 3 for _ in texts]
    shares = sorted((weight / sum(weights) for weight in weights), reverse=True)
    return tuple(zip(texts, shares, strict=True))


@given(hearings())
def test_what_sounds_best_stays_first_and_all_together_stay_as_likely(
    hearing: tuple[tuple[str, float], ...],
) -> None:
    calls = [call(*each) for each in hearing]
    after = by_fit(calls, SHEET)
    assert after[0].text == calls[0].text
    assert sum(each.confidence for each in after) == pytest.approx(
        sum(each.confidence for each in calls)
    )
    ratio = after[0].confidence / calls[0].confidence
    assert ratio + 1e-9 >= 1 / ODDS
    assert ratio <= ODDS + 1e-9


@given(hearings())
def test_nothing_is_recorded_by_what_is_expected_but_what_sounded_best_and_fits(
    hearing: tuple[tuple[str, float], ...],
) -> None:
    alone, with_sheet = decided(NOTHING, *hearing), decided(SHEET, *hearing)
    if with_sheet.outcome != "record":
        return
    assert with_sheet.text == hearing[0][0], "what sounds best, or nothing"
    if alone.outcome != "record":
        assert fits(with_sheet.intents[0], SHEET)
        # No rival that fits too, or sounds alike, was near.
        for text, share in hearing[1:]:
            if fits(meaning(text), SHEET):
                assert share < 0.05 * hearing[0][1]


@given(hearings())
def test_what_does_not_fit_is_never_impossible(hearing: tuple[tuple[str, float], ...]) -> None:
    best, share = hearing[0]
    decision = decided(SHEET, *hearing)
    if share > 0.99:
        assert decision.text == best
        assert decision.outcome in ("record", "ask")
        assert decision.intents[0] == meaning(best)


@given(hearings(), st.floats(1e-5, 1e-2), st.floats(1.0, 3.0))
def test_no_window_makes_another_figure_come_first(
    hearing: tuple[tuple[str, float], ...], low: float, wide: float
) -> None:
    window = Expectation(low=low, high=low * wide, unit="m")
    listening = replace(NOTHING, expectations={"gap": window, "play": window})
    decision = decided(listening, *hearing)
    if decision.intents:
        assert meaning(hearing[0][0]) in decision.intents[:2]
        assert decision.text == hearing[0][0]
