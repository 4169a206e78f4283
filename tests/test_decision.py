"""Utterances: from ranked hypotheses to record, ask, say again or ignore."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.grammar.compiled import load_grammar
from companion.intent.decision import (
    MAY_BE_NOPE,
    Decision,
    Expectation,
    Listening,
    decide_utterance,
)
from companion.intent.thresholds import DEFAULT
from companion.recognize.protocol import Hypothesis, Recognition
from companion.speak.wording import word_not_understood

GRAMMAR = load_grammar()
KEY_HELD = Listening()
OPEN_MIC = Listening(call_sign_needed=True)
ANSWERING = Listening(answer_awaited=True)
GAP = Listening(expectations={"gap": Expectation(low=0.000711, high=0.000787, unit="m")})


def heard(
    *hypotheses: tuple[str, float], call: float = 1.0, draft: str | None = None
) -> Recognition:
    """What an engine made of an utterance: sentences with their confidences, best first."""
    ranked = tuple(Hypothesis(text, -float(at), sure) for at, (text, sure) in enumerate(hypotheses))
    return Recognition("test", ranked, call, draft, 0.0)


def decided(recognition: Recognition, listening: Listening = KEY_HELD) -> Decision:
    return decide_utterance(recognition, GRAMMAR, listening)


def test_a_clear_call_is_recorded() -> None:
    decision = decided(heard(("gap thirty thou", 0.98), ("play thirty thou", 0.01)))
    assert (decision.outcome, decision.text) == ("record", "gap thirty thou")
    assert decision.confidence == pytest.approx(0.98)
    assert decision.reasons == ()


def test_hypotheses_of_equal_meaning_are_no_rivals_and_count_together() -> None:
    decision = decided(
        heard(
            ("engine speed thirty six hundred", 0.46),
            ("engine speed thirty six hundred r p m", 0.45),
            ("engine speed three thousand six hundred", 0.08),
        )
    )
    assert decision.outcome == "record"
    assert decision.confidence == pytest.approx(0.99)


def test_a_close_rival_is_asked_about_after_the_best() -> None:
    decision = decided(heard(("gap thirty thou", 0.55), ("play thirty thou", 0.40)))
    assert decision.outcome == "ask"
    assert "close rival: play thirty thou" in decision.reasons
    measures = [intent.model_dump()["measure"] for intent in decision.intents]
    assert measures == ["gap", "play"]


@pytest.mark.parametrize(
    ("best", "rival"),
    [
        ("gap thirty thou", "gap thirteen thou"),
        ("gap fifteen thou", "gap fifty thou"),
        ("engine speed one eighty", "engine speed one eighteen"),
        ("gap five thou", "gap nine thou"),
        ("need fourteen bolts", "need forty bolts"),
    ],
)
def test_numbers_that_sound_alike_are_asked_about_sooner(best: str, rival: str) -> None:
    decision = decided(heard((best, 0.985), (rival, 0.015)))
    assert (decision.outcome, len(decision.intents)) == ("ask", 2)
    assert decision.reasons == (f"sounds like: {rival}",)
    # The same share for another that does not sound alike is no doubt.
    assert decided(heard((best, 0.985), ("play eleven thou", 0.015))).outcome == "record"
    # Nor is a rival that hardly anything speaks for: asking too often is a fault too.
    assert decided(heard((best, 0.985), (rival, 0.005))).outcome == "record"


@pytest.mark.parametrize(
    ("best", "rival"),
    [
        ("torque fifteen newton meters", "torque fifty newton meters"),
        ("used thirteen nuts", "used thirty nuts"),
    ],
)
def test_a_teen_before_an_n_is_asked_about_where_little_speaks_for_the_tens(
    best: str, rival: str
) -> None:
    decision = decided(heard((best, 0.99), (rival, 0.003)))
    assert (decision.outcome, decision.reasons) == ("ask", (f"sounds like: {rival}",))
    # Tens themselves are not what a teen is taken for there, and nothing for them is no doubt.
    assert decided(heard((rival, 0.99), (best, 0.003))).outcome == "record"
    assert decided(heard((best, 0.99), (rival, 0.0005))).outcome == "record"


@pytest.mark.parametrize(
    ("best", "other"),
    [
        ("gap six two thou", "gap sixty thou"),
        ("gap sixty two thou", "gap sixty thou"),
        ("torque one seventy two inch pounds", "torque one seventy inch pounds"),
        ("gap sixty thou", "gap six two thou"),
    ],
)
def test_a_two_that_may_have_been_lost_or_gained_is_asked_about(best: str, other: str) -> None:
    decision = decided(heard((best, 0.99), (other, 0.004)))
    assert (decision.outcome, decision.reasons) == ("ask", (f"sounds like: {other}",))
    assert decided(heard((best, 0.99), (other, 0.002))).outcome == "record"
    # A digit and its tens by themselves differ by more than that.
    assert decided(heard(("gap six thou", 0.99), ("gap sixty thou", 0.004))).outcome == "record"


def test_a_teen_before_an_n_is_asked_about_where_its_digit_and_ten_may_have_been_heard() -> None:
    best, other = "torque nineteen newton meters", "torque nine ten newton meters"
    decision = decided(heard((best, 0.99), (other, 0.002)))
    assert (decision.outcome, decision.reasons) == ("ask", (f"sounds like: {other}",))
    inch = decided(heard(("gap nineteen thou", 0.99), ("gap nine ten thou", 0.002)))
    assert inch.outcome == "record"


def test_a_number_that_is_less_surely_in_a_call_must_be_heard_more_surely() -> None:
    call = DEFAULT.sure_number - 0.02
    between = (DEFAULT.number + DEFAULT.number_less_sure) / 2
    unsure = decided(heard(("gap thirty thou", between), call=call))
    assert (unsure.outcome, unsure.reasons) == ("ask", ("low confidence",))
    assert decided(heard(("gap thirty thou", 0.99), call=call)).outcome == "record"
    # The call sign speaks for a call by itself.
    assert decided(heard(("bench gap thirty thou", between), call=call)).outcome == "record"


@pytest.mark.parametrize("call", ["park job", "close job", "stand by", "stop for today"])
def test_what_ends_the_job_or_the_listening_must_be_as_clearly_a_call_as_a_number(
    call: str,
) -> None:
    between = (DEFAULT.clear_call + DEFAULT.clear_number) / 2
    decision = decided(heard((call, 0.99), call=between))
    assert (decision.outcome, decision.reasons) == ("ask", ("may be no call",))
    assert decided(heard((call, 0.99), call=DEFAULT.clear_number + 0.01)).outcome == "record"


def test_low_confidence_is_asked_about() -> None:
    for text, needed in (("gap thirty thou", DEFAULT.number), ("next step", DEFAULT.record)):
        unsure = decided(heard((text, needed - 0.01)))
        assert (unsure.outcome, unsure.reasons) == ("ask", ("low confidence",))
        assert decided(heard((text, needed + 0.01))).outcome == "record"


@pytest.mark.parametrize(
    ("heard_as", "tens"),
    [
        ("torque nine ten newton meters", "ninety"),
        ("torque six ten newton meters", "sixty"),
        ("idle speed nine ten", "ninety"),
    ],
)
def test_a_digit_before_ten_may_have_been_tens_and_is_asked_about_however_sure(
    heard_as: str, tens: str
) -> None:
    decision = decided(heard((heard_as, 1.0)))
    assert (decision.outcome, decision.reasons) == ("ask", (f"sounds like: {tens}",))


@pytest.mark.parametrize("call", ["compression one ten p s i", "battery ten point five volts"])
def test_ten_after_one_or_at_the_beginning_is_no_tens(call: str) -> None:
    assert decided(heard((call, 1.0))).outcome == "record"


@pytest.mark.parametrize("call", ["gap point oh six inch", "bench gap zero point oh one inches"])
def test_thousandths_in_two_places_may_lack_a_digit_and_are_asked_about(call: str) -> None:
    # Thousandths of an inch are called to three places: common practice.
    decision = decided(heard((call, 1.0)))
    assert (decision.outcome, decision.reasons) == ("ask", ("a digit may be lost",))


@pytest.mark.parametrize(
    "call",
    [
        "gap point oh six two inch",
        "gap point oh six oh inch",
        "play point two five inch",
        "gap zero point oh four millimeters",
    ],
)
def test_thousandths_in_three_places_and_other_fractions_lack_none(call: str) -> None:
    assert decided(heard((call, 1.0))).outcome == "record"


@pytest.mark.parametrize("call", ["wait thirty thou", "bench wait thirty thou"])
def test_a_correction_by_wait_alone_is_asked_about(call: str) -> None:
    decision = decided(heard((call, 1.0)))
    assert decision.intents[0].intent == "correction"
    assert (decision.outcome, decision.reasons) == ("ask", ("a measure may sound like it",))


@pytest.mark.parametrize("words", ["correction", "no", "no wait", "wait make that", "no it's"])
def test_a_correction_by_more_is_taken(words: str) -> None:
    assert decided(heard((f"{words} thirty thou", 1.0))).outcome == "record"


def test_what_may_be_no_call_is_asked_about_and_sooner_with_a_number() -> None:
    between = (DEFAULT.clear_call + DEFAULT.clear_number) / 2
    number = decided(heard(("gap thirty thou", 0.99), call=between))
    assert (number.outcome, number.reasons) == ("ask", ("may be no call",))
    assert decided(heard(("next step", 0.99), call=between)).outcome == "record"
    assert decided(heard(("next step", 0.99), call=DEFAULT.clear_call - 0.01)).outcome == "ask"


def test_what_was_hardly_heard_is_to_be_said_again_and_not_asked_about() -> None:
    decision = decided(heard(("gap thirty thou", 0.1), ("gap fifty thou", 0.09)))
    assert (decision.outcome, decision.intents) == ("say-again", ())
    assert "low confidence" in decision.reasons


def test_a_value_far_from_the_spec_is_asked_about_however_sure() -> None:
    decision = decided(heard(("gap three hundred thou", 1.0)), GAP)
    assert (decision.outcome, decision.reasons) == (
        "ask",
        ("9.68 times the spec", "ten times off: 300 or 30"),
    )
    assert decided(heard(("gap thirty six thou", 1.0)), GAP).outcome == "record"


def test_a_number_that_may_mean_two_is_asked_about_however_sure() -> None:
    decision = decided(heard(("play five three eighths inch", 1.0)))
    assert decision.outcome == "ask"
    assert decision.reasons == ("may mean 5.375 or 6.625",)
    assert len(decision.intents) == 2


def test_an_answer_that_is_not_sure_is_to_be_said_again_and_not_asked_about() -> None:
    for answer, needed in (
        ("affirm", DEFAULT.answer),
        ("yes", DEFAULT.answer),
        ("roger", DEFAULT.answer),
        # To take a "no" that was none records nothing.
        ("negative", DEFAULT.negative),
    ):
        assert decided(heard((answer, 0.97)), ANSWERING).outcome == "record"
        unsure = decided(heard((answer, needed - 0.05)), ANSWERING)
        assert unsure.outcome == "say-again"


def test_affirm_against_negative_is_never_taken_nor_asked_about() -> None:
    decision = decided(heard(("affirm", 0.83), ("negative", 0.15)), ANSWERING)
    assert (decision.outcome, decision.intents) == ("say-again", ())


@pytest.mark.parametrize("answer", ["affirm", "negative"])
def test_an_answer_is_ignored_when_nothing_was_asked(answer: str) -> None:
    decision = decided(heard((answer, 1.0)), KEY_HELD)
    assert (decision.outcome, decision.reasons) == ("ignore", ("no question is open",))


def test_open_microphone_listens_only_behind_the_call_sign() -> None:
    assert decided(heard(("gap thirty thou", 1.0)), OPEN_MIC).outcome == "ignore"
    assert decided(heard(("bench gap thirty thou", 1.0)), OPEN_MIC).outcome == "record"
    # Right after a question none is needed: the caller then says so.
    assert decided(heard(("gap thirty thou", 1.0)), ANSWERING).outcome == "record"


def test_the_likeliest_wording_of_the_best_meaning_says_whether_the_call_sign_was_there() -> None:
    twice = heard(("gap thirty thou", 0.6), ("bench gap thirty thou", 0.39))
    assert decided(twice, OPEN_MIC).outcome == "ignore"


def test_talk_that_is_no_call_is_ignored() -> None:
    talk = heard(("bench gap thirty thou", 0.9), call=0.05, draft="when did you last cap thirty")
    decision = decided(talk, OPEN_MIC)
    assert (decision.outcome, decision.text, decision.intents) == ("ignore", "", ())
    assert decided(heard(("no", 0.9), call=0.05), ANSWERING).outcome == "ignore"


def test_talk_into_a_held_key_or_behind_a_plain_call_sign_is_to_be_said_again() -> None:
    assert decided(heard(("gap thirty thou", 0.9), call=0.05), KEY_HELD).outcome == "say-again"
    plain = heard(("bench gap thirty thou", 0.9), call=0.05, draft="Bench, what's the time?")
    assert decided(plain, OPEN_MIC).outcome == "say-again"


def test_what_may_be_no_call_is_asked_about() -> None:
    middling = (DEFAULT.call + DEFAULT.clear_call) / 2
    decision = decided(heard(("bench next step", 0.95), call=middling), OPEN_MIC)
    assert (decision.outcome, decision.reasons) == ("ask", ("may be no call",))


def test_nothing_heard_is_ignored() -> None:
    assert decided(heard()).outcome == "ignore"
    assert decided(heard(("[unk]", 0.9), ("[unk] [unk]", 0.1))).outcome == "ignore"


# A word-list engine gives words of the grammar in any order, and "[unk]" for the rest.
def test_a_word_list_engine_is_taken_at_its_word_where_that_is_a_call() -> None:
    decision = decided(heard(("bench gap thirty thou", 0.9), ("gap thirty thou", 0.1)))
    assert (decision.outcome, decision.text) == ("record", "bench gap thirty thou")


@pytest.mark.parametrize(
    ("text", "taken_for"),
    [
        ("now gap thirty thou", "gap thirty thou"),
        ("start soka timer", "start soak timer"),
        ("grease auger shaft", "greased auger shaft"),
    ],
)
def test_what_a_word_list_engine_heard_nearly_is_taken_for_the_call(
    text: str, taken_for: str
) -> None:
    decision = decided(heard((text, 0.95)))
    assert (decision.outcome, decision.text) == ("ask", taken_for)


def test_a_call_that_denies_of_itself_is_not_turned_around_by_its_own_denial() -> None:
    said = "skip this one it doesn't need it"
    decision = decided(heard((said, 1.0), draft="Skip this one. It doesn't need it."))
    assert (decision.outcome, decision.intents[0].intent) == ("record", "step.skip")


@pytest.mark.parametrize(
    ("call", "transcript"),
    [
        ("are we good to start", "Aren't we good to start?"),
        ("can i fire it up", "Can't I fire it up?"),
        ("is it clear to start", "Isn't it clear to start?"),
    ],
)
def test_a_question_that_opens_with_a_denial_asks_the_same(call: str, transcript: str) -> None:
    decision = decided(heard((call, 1.0), draft=transcript))
    assert (decision.outcome, decision.intents[0].intent) == ("record", "start.check")


@pytest.mark.parametrize(
    ("call", "transcript"),
    [
        ("can smell fuel", "Can't smell fuel."),
        ("are we good to start", "Aren't we not good to start?"),
        ("oil level full", "Isn't the oil level full?"),
    ],
)
def test_any_other_denial_in_a_transcript_turns_a_call_around(call: str, transcript: str) -> None:
    assert decided(heard((call, 1.0), draft=transcript)).outcome == "say-again"


# The word that it did not know may be the "not" that turns the rest around.
@pytest.mark.parametrize(
    "text",
    ["gap [unk] thirty thou", "[unk] replaced spark plug", "oil level [unk] full",
     "engine running [unk]"],
)  # fmt: skip
def test_a_word_that_a_word_list_engine_did_not_know_is_never_passed_over(text: str) -> None:
    decision = decided(heard((text, 0.95)))
    assert (decision.outcome, decision.intents) == ("say-again", ())
    assert decision.reasons == ("a word in it is not known: call it without that word",)


def test_what_a_word_list_engine_heard_without_a_unit_is_to_be_said_again() -> None:
    decision = decided(heard(("gap thirty", 0.95)))
    assert decision.outcome == "say-again"
    assert decision.reasons == ("the unit is missing: thou, inches or millimeters",)
    assert decided(heard(("gap thirty", 0.95)), OPEN_MIC).outcome == "ignore"


# Spoken notes: held to the grammar an engine hears only "note"; its free transcript has the rest.
def test_a_spoken_note_keeps_the_draft_behind_the_word_note() -> None:
    spoken = heard(("note", 0.4), ("no", 0.3), call=0.1, draft="Note, the left tire is worn.")
    decision = decided(spoken)
    assert decision.outcome == "record"
    assert decision.intents[0].model_dump() == {"intent": "note", "text": "the left tire is worn"}


def test_a_spoken_note_needs_the_call_sign_like_any_call() -> None:
    draft = "Bench, note the left tire is worn"
    signed = heard(("bench note", 0.4), call=0.1, draft=draft)
    assert decided(signed, OPEN_MIC).outcome == "record"
    unsigned = heard(("note", 0.4), call=0.1, draft="Note that nobody came")
    assert decided(unsigned, OPEN_MIC).outcome == "ignore"


def test_note_is_not_taken_for_an_answer_that_sounds_like_it() -> None:
    asked = Listening(answer_awaited=True)
    nope = heard(("note", 0.9), ("nope", 0.1), draft="Nope.")
    assert decided(nope, asked).intents[0].intent == "negative"
    assert decided(nope).intents[0].intent == "note", "no question is open that it could answer"
    unclear = heard(("note", 0.9), ("nope", 0.1), draft="Not.")
    decision = decided(unclear, asked)
    assert (decision.outcome, decision.reasons) == ("say-again", (MAY_BE_NOPE,))
    assert word_not_understood(decision.reasons).text == "Say again. Negative, or note?"
    with_words = heard(("note", 0.98), draft="Note, the left tire is worn.")
    assert decided(with_words, Listening(answer_awaited=True)).outcome == "record"


def test_note_with_no_draft_is_a_note_all_the_same() -> None:
    decision = decided(heard(("note", 0.95)))
    assert decision.intents[0].model_dump() == {"intent": "note", "text": None}


@given(
    st.lists(st.tuples(st.integers(0, 2**32), st.floats(0, 1)), min_size=1, max_size=5),
    st.floats(0, 1),
    st.sampled_from([KEY_HELD, OPEN_MIC, ANSWERING, GAP]),
)
def test_any_hypotheses_give_a_decision_of_the_right_shape(
    drawn: list[tuple[int, float]], call: float, listening: Listening
) -> None:
    whole = sum(sure for _, sure in drawn) or 1.0
    ranked = sorted(
        (
            (" ".join(GRAMMAR.generate(Random(seed))), sure / max(1.0, whole))
            for seed, sure in drawn
        ),
        key=lambda pair: -pair[1],
    )
    decision = decided(heard(*ranked, call=call), listening)
    sizes = {"record": (1, 1), "ask": (1, 3), "say-again": (0, 0), "ignore": (0, 0)}
    low, high = sizes[decision.outcome]
    assert low <= len(decision.intents) <= high
    assert decision.outcome == "record" or decision.reasons
    if decision.outcome == "record":
        assert call >= DEFAULT.clear_call
        assert decision.confidence >= DEFAULT.record


GAP_TO_CORRECT = Listening(correcting="gap", correcting_unit="thou")


def test_a_correction_in_a_unit_that_cannot_be_meant_is_no_hypothesis() -> None:
    recognition = heard(
        ("correction thirty one ounces", 0.5),
        ("correction thirty one thou", 0.49),
        ("correction thirty nine thou", 0.01),
    )
    assert decided(recognition).outcome == "ask"
    decision = decided(recognition, GAP_TO_CORRECT)
    assert (decision.outcome, decision.text) == ("record", "correction thirty one thou")
    # What the impossible one was given is shared among the others.
    assert decision.confidence == pytest.approx(0.98)


def test_a_bare_correction_means_the_same_as_one_in_the_unit_of_what_it_corrects() -> None:
    recognition = heard(("correction thirty one thou", 0.5), ("correction thirty one", 0.48))
    assert decided(recognition, GAP_TO_CORRECT).outcome == "record"
    assert decided(recognition).outcome == "ask"


def test_a_note_without_a_word_is_no_answer_but_one_with_words_is_a_note() -> None:
    nope = heard(("note", 0.97), ("nope", 0.02), draft="Note")
    assert decided(nope, ANSWERING).outcome == "say-again"
    assert decided(nope, KEY_HELD).outcome == "record"
    note = heard(("note", 0.97), ("nope", 0.02), draft="Note, the idler squeaks.")
    assert decided(note, ANSWERING).outcome == "record"
