"""What the step waits for is heard a little more readily; never one figure more than another."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.grammar.compiled import load_grammar
from companion.intent.context import AWAITED_ODDS, OFTEN, USUAL_ODDS, is_awaited, weighed
from companion.intent.decision import Decision, Listening, decide_utterance
from companion.intent.frame import frame_of
from companion.intent.intents import Finding, Reading
from companion.intent.understood import Understood, exactly
from companion.job import decide as job
from companion.recognize.protocol import Hypothesis, Recognition
from tests.bench_job import Job, go
from tests.test_job_branches import DIAGNOSIS

GRAMMAR = load_grammar()
KEY_HELD = Listening()
GAP_AWAITED = Listening(awaited=frozenset({"gap"}))


def decided(listening: Listening, *hypotheses: tuple[str, float]) -> Decision:
    ranked = tuple(Hypothesis(text, -float(at), sure) for at, (text, sure) in enumerate(hypotheses))
    return decide_utterance(Recognition("test", ranked, 1.0, None, 0.0), GRAMMAR, listening)


def call(text: str, confidence: float) -> Understood:
    found = exactly(text.split(), GRAMMAR, KEY_HELD, confidence)
    assert found is not None
    return found


def test_of_two_that_were_heard_alike_the_awaited_one_is_asked_about_first() -> None:
    alike = (("play thirty thou", 0.5), ("gap thirty thou", 0.45))
    assert decided(KEY_HELD, *alike).intents[0].model_dump()["measure"] == "play"
    decision = decided(GAP_AWAITED, *alike)
    assert decision.outcome == "ask"
    assert decision.intents[0].model_dump()["measure"] == "gap"


@pytest.mark.parametrize("sure", [0.98, 0.99, 0.999])
def test_a_call_that_nothing_waits_for_is_recorded_all_the_same(sure: float) -> None:
    decision = decided(GAP_AWAITED, ("play thirty thou", sure), ("gap thirty thou", 1 - sure))
    assert decision.outcome == "record"
    assert decision.intents[0].model_dump()["measure"] == "play"


@given(st.floats(0.01, 1), st.floats(0.01, 1))
def test_it_never_weighs_one_figure_against_another(one: float, other: float) -> None:
    calls = [call("gap thirty thou", one), call("gap thirteen thou", other)]
    weighed_calls = {each.text: each.confidence for each in weighed(calls, GAP_AWAITED, GRAMMAR)}
    assert weighed_calls == {each.text: each.confidence for each in calls}


@given(st.lists(st.floats(0.0, 0.3), min_size=3, max_size=3))
def test_together_they_stay_as_sure_as_they_were(shares: list[float]) -> None:
    texts = ("gap thirty thou", "play thirty thou", "tag no oil")
    calls = [call(text, share) for text, share in zip(texts, shares, strict=True)]
    after = weighed(calls, GAP_AWAITED, GRAMMAR)
    assert sum(each.confidence for each in after) == pytest.approx(sum(shares))
    assert [each.confidence for each in after] == sorted(
        (each.confidence for each in after), reverse=True
    )


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_what_was_heard_better_by_more_than_the_odds_stays_first(gap: float, play: float) -> None:
    calls = [call("gap thirty thou", gap), call("play thirty thou", play)]
    first = weighed(calls, GAP_AWAITED, GRAMMAR)[0].text
    if play > AWAITED_ODDS * gap:
        assert first == "play thirty thou"
    if AWAITED_ODDS * gap > play:
        assert first == "gap thirty thou"


def test_a_step_waits_for_its_readings_its_points_and_its_parts() -> None:
    at_plug = Job(None, DIAGNOSIS).open().call(go("plug"))
    assert job.awaited(at_plug.state) == {"spark plug"}
    at_compression = Job(None, DIAGNOSIS).open().call(go("compression"))
    assert job.awaited(at_compression.state) == {"compression"}
    listening = replace(KEY_HELD, awaited=job.awaited(at_plug.state))
    assert is_awaited(Finding(part="spark plug", condition="fouled"), listening)
    reading = Reading.model_construct(measure="compression", value=Decimal(95), unit="psi")
    assert not is_awaited(reading, listening)
    assert job.awaited(Job(None, None).open().state) == frozenset()


def used(form: str, often: int) -> Listening:
    return Listening(used={form: often})


@pytest.mark.parametrize("often", [0, 3, 10, 1000])
def test_the_plain_form_weighs_more_than_one_that_is_seldom_used(often: int) -> None:
    calls = [call("the drive belt is worn", 0.5), call("replaced drive belt", 0.5)]
    listening = used("the … is worn", often)
    after = {each.text: each.confidence for each in weighed(calls, listening, GRAMMAR)}
    odds = after["replaced drive belt"] / after["the drive belt is worn"]
    share = min(often, OFTEN) / OFTEN
    assert odds == pytest.approx(USUAL_ODDS / (1 + (USUAL_ODDS - 1) * share))


@given(
    st.sampled_from(["gap thirty thou", "gap is thirty thou", "thirty thou on the gap"]),
    st.sampled_from(["gap thirteen thou", "gap reads thirteen thou", "gap of thirteen thou"]),
    st.integers(0, 50),
)
def test_no_form_weighs_one_figure_against_another(one: str, other: str, often: int) -> None:
    calls = [call(one, 0.6), call(other, 0.4)]
    listening = used(frame_of(one.split(), GRAMMAR), often)
    assert {each.text: each.confidence for each in weighed(calls, listening, GRAMMAR)} == {
        one: 0.6,
        other: 0.4,
    }


@pytest.mark.parametrize(
    ("said", "frame"),
    [
        ("bench put in twenty ounces of oil", "put in … of …"),
        ("gap is thirty thou", "… is …"),
        ("took the drive belt off", "took the … off"),
        ("set a timer for ten minutes", "set a timer for …"),
        ("no call at all", ""),
    ],
)
def test_a_frame_is_how_a_call_is_put_without_names_and_numbers(said: str, frame: str) -> None:
    assert frame_of(said.split(), GRAMMAR) == frame
