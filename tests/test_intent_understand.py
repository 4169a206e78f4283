"""Typed calls: what is recorded, what is asked about, what has to be said again, and why."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.grammar.compiled import load_grammar
from companion.intent.decision import Decision, Expectation, Listening
from companion.intent.interpret import understand
from companion.intent.match import EXACT_WORDS, nearest
from companion.intent.numbers import ARTICLES
from companion.intent.text import typed_words

GRAMMAR = load_grammar()
GAP_WINDOW = Expectation(low=0.000711, high=0.000787, unit="m")
LISTENING = Listening(
    expectations={
        "gap": GAP_WINDOW,
        "compression": Expectation(low=620_000, high=None, unit="Pa"),
        "leak down": Expectation(low=None, high=0.2, unit="1"),
        "oil": Expectation(low=0.0006, high=0.0006, unit="m3"),
        "oil temperature": Expectation(low=340.0, high=380.0, unit="K"),
        "battery": Expectation(low=12.4, high=12.9, unit="V"),
    }
)
ANSWERING = Listening(answer_awaited=True)


def typed(text: str, listening: Listening = LISTENING) -> Decision:
    return understand(text, GRAMMAR, listening)


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("gap 30 thou", "30", "thou"),
        ("bench, gap .030 in", "0.030", "inch"),
        ('Gap 0.030"', "0.030", "inch"),
        ("gap thirty thou", "30", "thou"),
        ("gap 0.76 millimetres", "0.76", "millimeter"),
        ("play 5 3/8 in", "5.375", "inch"),
        ("engine speed 3,600", "3600", "rpm"),
        ("battery 12.6", "12.6", "volt"),
        ("tyre pressure 15 psi", "15", "psi"),
        ("air temperature -5 °C", "-5", "celsius"),
        ("torque 22 newton metres", "22", "newton meter"),
        ("drained 1/2 litre of oil", "0.5", "liter"),
        ("drained 1/8 gal of oil", "0.125", "gallon"),
        ("leakdown 12%", "12", "percent"),
        ("inlet clearance 6 thou", "6", "thou"),
    ],
)
def test_a_plain_call_is_recorded_exactly(text: str, value: str, unit: str) -> None:
    decision = typed(text)
    assert (decision.outcome, decision.reasons) == ("record", ())
    found = decision.intents[0].model_dump(mode="json")
    assert (found["value"], found["unit"]) == (value, unit)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("gap thirty", "the unit is missing: thou, inches or millimeters"),
        ("gap thirty p s i", "'p s i' does not fit: thou, inches or millimeters"),
        ("gap 30 volts", "'volts' does not fit: thou, inches or millimeters"),
        ("gap 30 thuo", "'thuo' is no unit here: thou, inches or millimeters"),
        ("gap 30 mils", "'mils' does not fit: thou, inches or millimeters"),
        ("torque 16", "the unit is missing: foot pounds, inch pounds or newton meters"),
        ("air temperature 5 degrees", "the unit is missing: celsius or fahrenheit"),
        ("compression 120", "the unit is missing: p s i, kilopascals or bar"),
        ("start timer fifteen", "the unit is missing: seconds, minutes or hours"),
        (
            "convert 30 thou to psi",
            "'p s i' does not fit: inches, feet, millimeters or centimeters",
        ),
    ],
)
def test_a_missing_or_unfit_unit_is_never_recorded_and_the_units_that_fit_are_named(
    text: str, reason: str
) -> None:
    decision = typed(text)
    assert (decision.outcome, decision.intents) == ("say-again", ())
    assert decision.reasons == (reason,)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("gap 3,6 thou", "'3,6' is not plainly one number"),
        ("gap 28-31 thou", "'28-31' is not plainly one number"),
        ("gap 1 20 thou", "'1 20' is not plainly one number"),
        ("gap", "understood only as far as 'gap'"),
        ("what is the weather like", "no call is like this"),
        ("", "nothing was typed"),
        ("?!", "nothing was typed"),
    ],
)
def test_what_is_no_call_has_to_be_said_again_with_the_reason(text: str, reason: str) -> None:
    decision = typed(text)
    assert (decision.outcome, decision.intents, decision.reasons) == ("say-again", (), (reason,))


@pytest.mark.parametrize(
    ("text", "taken_for", "reason"),
    [
        ("replaced fuel fliter", "replaced fuel filter", "'fliter' taken for 'filter'"),
        ("carburator dirty", "carburetor dirty", "'carburator' taken for 'carburetor'"),
        ("replaced sparkplug", "replaced spark plug", "'sparkplug' in two words"),
        ("fly wheel loose", "flywheel loose", "'flywheel' in one word"),
        ("please replaced the spark plug", "replaced the spark plug", "without 'please'"),
        # Nothing but a word that says nothing is left out: the number stands as it was typed.
        ("now gap 30 thou", "gap thirty thou", "without 'now'"),
    ],
)
def test_a_slip_that_can_mean_nothing_else_is_recorded_with_the_reason(
    text: str, taken_for: str, reason: str
) -> None:
    decision = typed(text)
    assert (decision.outcome, decision.text) == ("record", taken_for)
    assert reason in decision.reasons


@pytest.mark.parametrize(
    ("text", "taken_for"),
    [
        # with a number
        ("gpa 30 thou", "gap thirty thou"),
        ("compresion 120 psi", "compression one hundred twenty p s i"),
        ("need 2 shaer pins", "need two shear pins"),
        ("start sock timer 2 hours", "start soak timer two hours"),
        # a word of its own that may well be meant
        ("gearing loose", "bearing loose"),
        # a word of the grammar, but another form
        ("grease auger shaft", "greased auger shaft"),
        # a tag taken down by a slip
        ("claer tag no oil", "clear tag no oil"),
    ],
)
def test_a_slip_that_may_mean_something_else_is_asked_about(text: str, taken_for: str) -> None:
    decision = typed(text)
    assert (decision.outcome, decision.text) == ("ask", taken_for)
    assert decision.reasons


@pytest.mark.parametrize("text", ["afirm", "yess", "negativ", "rogger"])
def test_an_answer_is_never_guessed_at(text: str) -> None:
    assert typed(text, ANSWERING).outcome == "say-again"


def test_affirm_is_taken_only_when_something_was_asked() -> None:
    assert typed("affirm", ANSWERING).outcome == "record"
    assert typed("affirm", Listening()).outcome == "ignore"


@pytest.mark.parametrize("text", ["gap sixty", "gap 30 tho", "torque 16 foot bounds"])
def test_numbers_and_units_are_never_matched_by_likeness(text: str) -> None:
    assert typed(text).outcome == "say-again"


@given(st.integers(0, 2**32), st.data())
def test_a_near_match_has_the_same_numbers_and_units_in_the_same_order(
    seed: int, data: st.DataObject
) -> None:
    words = list(GRAMMAR.generate(Random(seed)))
    at = data.draw(st.integers(0, len(words) - 1))
    slip = list(words[at])
    letter = data.draw(st.integers(0, len(slip) - 1))
    slip[letter] = data.draw(st.sampled_from("aeioustrnl"))
    words[at] = "".join(slip)
    (written,) = {typed_words(" ".join(words))[0]}
    for match in nearest(written, GRAMMAR):
        # A word run together or taken apart holds no number and no unit; an article before a name
        # and "of" say nothing.
        counting = EXACT_WORDS - {"of", "i", *ARTICLES}
        exact = [word for word in match.words if word in counting]
        assert exact == [word for word in written if word in counting]


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("gap 300 thou", "9.68 times the spec"),
        ("gap 3 thou", "0.11 of the spec"),
        ("compression 12 psi", "0.13 of the spec"),
        ("compression 900 psi", "10 times the spec"),
        ("leak down 90 percent", "4.5 times the spec"),
        ("added 200 ounces of oil", "9.86 times the spec"),
        ("oil temperature 212 celsius", "105 degrees celsius off the spec"),
    ],
)
def test_a_value_far_from_the_spec_is_asked_about(text: str, reason: str) -> None:
    decision = typed(text)
    assert (decision.outcome, decision.reasons[0]) == ("ask", reason)


@pytest.mark.parametrize(
    "text",
    [
        "gap 25 thou", "gap 40 thou", "compression 85 psi", "compression 150 psi",
        "leak down 35 percent", "leak down 4 percent", "added one more ounce of oil",
        "oil temperature 120 celsius", "battery 11.2 volts", "play 1/8 inch",
    ],
)  # fmt: skip
def test_a_value_merely_out_of_spec_is_recorded(text: str) -> None:
    assert typed(text).outcome == "record"


def test_a_correction_is_held_against_what_it_corrects() -> None:
    gap = Listening(expectations={"gap": GAP_WINDOW}, correcting="gap", correcting_unit="thou")
    assert typed("correction 31 thou", gap).outcome == "record"
    assert typed("correction 31", gap).outcome == "record"
    assert typed("correction 310", gap).outcome == "ask"


def test_a_bare_correction_is_read_in_the_unit_of_what_it_corrects() -> None:
    volts = Listening(correcting="battery", correcting_unit="volt")
    assert typed("correction twelve sixty", volts).reasons == ("may mean 12.60 or 1260",)
    revs = Listening(correcting="engine speed", correcting_unit="rpm")
    assert typed("correction fourteen fifty", revs).outcome == "record"


def test_an_ambiguous_number_is_asked_about_the_expected_value_first() -> None:
    decision = typed("battery twelve sixty")
    assert decision.outcome == "ask"
    assert decision.reasons == ("may mean 12.60 or 1260",)
    values = [intent.model_dump(mode="json")["value"] for intent in decision.intents]
    assert values == ["12.60", "1260"]


def test_of_two_readings_the_spec_decides_only_the_order_of_the_questions() -> None:
    wide = Listening(expectations={"play": Expectation(low=0.15, high=0.2, unit="m")})
    decision = typed("play five three eighths inch", wide)
    values = [intent.model_dump(mode="json")["value"] for intent in decision.intents]
    # 6 5/8 inch is 0.168 m, 5 3/8 inch 0.137 m.
    assert (decision.outcome, values) == ("ask", ["6.625", "5.375"])


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("note left tyre is worn, 12 mm", "left tyre is worn, 12 mm"),
        ("Bench, note: ring the owner", "ring the owner"),
        ("NOTE -5 outside", "-5 outside"),
        ("note", None),
    ],
)
def test_a_note_keeps_its_words_as_they_were_typed(text: str, kept: str | None) -> None:
    decision = typed(text)
    assert decision.outcome == "record"
    assert decision.intents[0].model_dump() == {"intent": "note", "text": kept}


def test_with_a_call_sign_needed_nothing_else_is_listened_to() -> None:
    open_mic = Listening(call_sign_needed=True)
    assert typed("gap 30 thou", open_mic).outcome == "ignore"
    assert typed("bench gap 30 thou", open_mic).outcome == "record"
    # The call sign itself is never guessed at.
    assert typed("bensh gap 30 thou", open_mic).outcome == "ignore"


@given(st.text(max_size=40))
def test_any_text_gives_a_decision_of_the_right_shape(text: str) -> None:
    decision = typed(text)
    sizes = {"record": (1, 1), "ask": (1, 3), "say-again": (0, 0), "ignore": (0, 0)}
    low, high = sizes[decision.outcome]
    assert low <= len(decision.intents) <= high
    assert decision.outcome == "record" or decision.reasons
    assert 0 <= decision.confidence <= 1
