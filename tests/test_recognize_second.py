"""A second recognizer for numbers: what it is asked, and what becomes of its answer."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from random import Random

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.audio.utterance import Utterance
from companion.errors import WrongUse
from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import CallGrammar, load_grammar
from companion.grammar.other_numbers import OtherNumbers, WordStates, number_words
from companion.intent.decision import Decision, Listening, decide_utterance
from companion.intent.doubt import has_number
from companion.intent.intents import Correction, Fluid, Reading
from companion.intent.meaning import meanings
from companion.intent.numbers import NUMBER_WORDS
from companion.intent.thresholds import DEFAULT
from companion.job.events import Heard
from companion.log.reader import read_log
from companion.recognize.protocol import Hypothesis, Recognition, RecognizerUnavailable
from companion.recognize.second import WithSecond, with_second
from companion.recognize.sphinx import SphinxEars
from companion.session.opening import open_session
from companion.speak.questions import which_number
from tests.conftest import Run, one_sentence
from tests.sounds import Samples, speak, with_pauses

LISTENING = Listening(answer_awaited=True)


@cache
def calls() -> CallGrammar:
    return load_grammar()


def heard(*guesses: tuple[str, float], second: Recognition | None = None) -> Recognition:
    found = tuple(Hypothesis(text, 0.0, share) for text, share in guesses)
    return Recognition("first", found, 0.99, None, 0.0, second)


def by_second(text: str | None, sure: float = 0.5) -> Recognition:
    return heard(*([(text, sure)] if text else []))


def decide(first: Recognition, second: Recognition | None) -> Decision:
    return decide_utterance(replace(first, second=second), calls(), LISTENING)


# --- the rule ---
def test_two_who_hear_the_same_number_record_what_one_would_ask_about() -> None:
    unsure = (DEFAULT.number + DEFAULT.number_agreed) / 2
    first = heard(("gap thirty thou", unsure), ("gap thirty", 1 - unsure))
    assert decide(first, None).outcome == "ask"
    agreed = decide(first, by_second("gap thirty thou"))
    assert agreed.outcome == "record"
    assert agreed.reasons == ("second agrees",)


def test_however_much_they_agree_a_number_hardly_heard_is_asked_about() -> None:
    first = heard(("gap thirty thou", DEFAULT.number_agreed - 0.01), ("roger", 0.01))
    assert decide(first, by_second("gap thirty thou", 1.0)).outcome == "ask"


def test_agreement_takes_no_other_doubt_away() -> None:
    first = heard(("gap thirty thou", 0.9), ("gap thirteen thou", 0.1))
    asked = decide(first, by_second("gap thirty thou", 1.0))
    assert asked.outcome == "ask"
    assert "sounds like: gap thirteen thou" in asked.reasons


def test_another_number_is_asked_about_with_both() -> None:
    asked = decide(heard(("gap fifty thou", 1.0)), by_second("gap fifteen thou"))
    assert asked.outcome == "ask"
    assert [intent.value for intent in asked.intents if isinstance(intent, Reading)] == [50, 15]
    assert asked.reasons == ("second hears: gap fifteen thou",)


def test_the_question_names_both() -> None:
    fifty, fifteen = (
        meanings(text.split(), calls())[0] for text in ("gap fifty thou", "gap fifteen thou")
    )
    half = meanings(["gap", "twelve", "and", "a", "half", "thou"], calls())[0]
    assert which_number((fifty, fifteen)) == "Fifty or fifteen?"
    assert which_number((half, fifty)) == "Twelve point five or fifty?"
    inch = meanings(["gap", "fifty", "millimeters"], calls())[0]
    assert which_number((fifty, inch)) == which_number((fifty,)) == ""


def test_a_second_that_is_hardly_sure_changes_nothing() -> None:
    first = heard(("gap fifty thou", 1.0))
    unsure = by_second("gap fifteen thou", DEFAULT.second_sure - 0.01)
    assert decide(first, unsure) == decide(first, None)


def test_eighteen_heard_as_eighty_is_asked_about() -> None:
    asked = decide(
        heard(("drained eighty ounces of oil", 1.0)), by_second("drained eighteen ounces of oil")
    )
    assert [intent.value for intent in asked.intents if isinstance(intent, Fluid)] == [80, 18]


def test_numbers_said_otherwise_are_the_same_number() -> None:
    first = heard(("compression one twenty p s i", 1.0))
    assert decide(first, by_second("compression one two zero p s i")).outcome == "record"


def test_a_second_that_hears_nothing_changes_nothing() -> None:
    for first in (heard(("gap thirty thou", 1.0)), heard(("gap thirty thou", 0.9), ("roger", 0.1))):
        assert decide(first, by_second(None)) == decide(first, None)


def test_a_correction_is_held_against_the_number_it_names() -> None:
    first = heard(("correction fifty thou", 1.0))
    asked = decide(first, by_second("correction fifteen thou"))
    assert [each.value for each in asked.intents if isinstance(each, Correction)] == [50, 15]


@settings(max_examples=60)
@given(st.integers(0, 10**6), st.integers(0, 10**6), st.floats(0, 1), st.floats(0, 1))
def test_the_second_never_overrules_and_never_adds_a_call(
    one: int, other: int, first_sure: float, second_sure: float
) -> None:
    """Whatever the two hear, what is recorded is what would be recorded or asked without it."""
    grammar = calls()
    text, else_text = (" ".join(grammar.generate(Random(seed))) for seed in (one, other))
    first = heard((text, first_sure))
    alone, together = decide(first, None), decide(first, by_second(else_text, second_sure))
    if together.outcome == "record":
        assert together.intents == alone.intents[:1]
    else:
        assert together.intents[:1] == alone.intents[:1]
    mine = meanings(text.split(), grammar)
    if not any(has_number(intent) for intent in mine):
        assert together == alone


# --- the question put to it ---
def test_the_number_words_are_those_of_the_grammar() -> None:
    # "Both" and "a couple" count, and are no figures.
    assert number_words(calls()) == NUMBER_WORDS | {"both", "couple", "pair"}


@pytest.mark.parametrize(
    ("call", "also", "not_this"),
    [
        ("gap thirty thou", "gap thirteen thou", "play thirty thou"),
        ("drained eighty ounces of oil", "drained one ounce of oil", "added eighty ounces of oil"),
        ("mix fifty to one for two gallons", "mix fifteen to one for one gallon", "gap two thou"),
        ("added half a liter of oil", "added two liters of oil", "added half a quart of oil"),
    ],
)
def test_only_the_numbers_are_left_open(call: str, also: str, not_this: str) -> None:
    open_numbers = OtherNumbers(calls(), call.split(), number_words(calls()))
    assert says(open_numbers, call)
    assert says(open_numbers, also)
    assert not says(open_numbers, not_this)


@settings(max_examples=40)
@given(st.integers(0, 10**6))
def test_whatever_it_may_say_is_a_call_of_the_whole_grammar(seed: int) -> None:
    random = Random(seed)
    grammar = calls()
    words = grammar.generate(random)
    part = OtherNumbers(grammar, words, number_words(grammar))
    assert says(part, " ".join(words))
    state, said = part.start, list[str]()
    while not (part.is_final(state) and random.random() < 0.5):
        if not part.arcs(state):
            break
        word, state = random.choice(sorted(part.arcs(state).items()))
        said.append(word)
        if len(said) > 20:
            return
    if part.is_final(state):
        assert grammar.parse(said)


def says(part: OtherNumbers, text: str) -> bool:
    state: int | None = part.start
    for word in text.split():
        state = None if state is None else part.arcs(state).get(word)
    return state is not None and part.is_final(state)


# --- the engine ---
class OneAnswer:
    """A first recognizer that always hears the same."""

    name = "first"

    def __init__(self, text: str) -> None:
        self.text = text

    def listen_for(self, grammar: CallGrammar) -> None:
        """Nothing to prepare."""

    def recognize(
        self, samples: Samples, *, call_sign_needed: bool = False, number_alone: bool = False
    ) -> Recognition:
        return heard((self.text, 1.0))

    def transcribe(self, samples: Samples) -> str | None:
        return self.text


@cache
def sphinx() -> SphinxEars:
    return SphinxEars()


def test_pocketsphinx_hears_the_number_that_was_said() -> None:
    both = WithSecond(OneAnswer("drained eighty ounces of oil"), sphinx())
    both.listen_for(calls())
    recognition = both.recognize(with_pauses(speak("drained eighteen ounces of oil", "slt")))
    assert recognition.second is not None
    assert [each.text for each in recognition.second.hypotheses] == [
        "drained eighteen ounces of oil"
    ]
    assert decide_utterance(recognition, calls(), LISTENING).outcome == "ask"
    assert "pocketsphinx" in recognition.engine


def test_a_session_asks_and_keeps_the_reason_in_its_log(tmp_path: Path) -> None:
    at = datetime(2026, 3, 4, 9, 15, tzinfo=UTC)
    both = WithSecond(OneAnswer("drained eighty ounces of oil"), sphinx())
    session = open_session(tmp_path / "session", at=at, recognizer=both)
    said = with_pauses(speak("drained eighteen ounces of oil", "slt"))
    exchange = session.hear(Utterance(said, 0.0, len(said) / SAMPLE_RATE), at)
    session.close()
    assert exchange.reply is not None
    assert exchange.reply.text == "Eighty or eighteen?"
    kept = [record.event for record in read_log(tmp_path / "session").records]
    (heard_event,) = [event for event in kept if isinstance(event, Heard)]
    assert heard_event.outcome == "ask"
    assert heard_event.reasons == ("second hears: drained eighteen ounces of oil",)


def test_it_knows_trade_words_that_its_dictionary_lacks() -> None:
    both = WithSecond(OneAnswer("gap fifty thou"), sphinx())
    both.listen_for(calls())
    second = both.recognize(with_pauses(speak("gap fifty thou", "slt"))).second
    assert second is not None
    assert second.hypotheses[0].text == "gap fifty thou"


def test_it_is_not_asked_about_calls_without_a_number_and_hears_nothing_in_silence() -> None:
    both = WithSecond(OneAnswer("oil level full"), sphinx())
    both.listen_for(calls())
    assert both.recognize(np.zeros(16_000, np.float32)).second is None
    both = WithSecond(OneAnswer("gap fifty thou"), sphinx())
    both.listen_for(calls())
    second = both.recognize(np.zeros(16_000, np.float32)).second
    assert second is not None
    assert second.hypotheses == ()


class Broken:
    """A second engine that fails at every call."""

    name = "broken"

    def listen_for(self, grammar: WordStates) -> None:
        """Nothing to prepare."""

    def recognize(self, samples: Samples) -> Recognition:
        raise RuntimeError("out of memory")


def test_a_second_that_fails_changes_nothing() -> None:
    first = OneAnswer("gap fifty thou")
    both = WithSecond(first, Broken())
    both.listen_for(calls())
    sound = np.zeros(16_000, np.float32)
    assert both.recognize(sound) == first.recognize(sound)


def test_the_choice_of_a_second_knows_its_names() -> None:
    first = OneAnswer("roger")
    assert with_second(first, "none") is first
    assert isinstance(with_second(first, "sphinx"), WithSecond)
    with pytest.raises(WrongUse, match="sphinx"):
        with_second(first, "crystal")


def test_without_the_engine_one_sentence_says_how_to_get_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(sys.modules, "pocketsphinx", None)
    with pytest.raises(RecognizerUnavailable, match="not installed; install it"):
        SphinxEars()


# --- the whole command ---
def test_the_command_asks_a_second_and_says_so(companion: Run, tmp_path: Path) -> None:
    clip, said = tmp_path / "call.wav", "compression one twenty p s i"
    soundfile.write(clip, with_pauses(speak(said, "slt")), SAMPLE_RATE)
    run = companion("hear", clip, "--second", "sphinx", "--json")
    line = json.loads(run.stdout)
    assert (line["outcome"], line["intent"]["value"]) == ("record", "120"), run.stderr
    assert "second agrees" in line["reasons"]
    assert "'crystal'" in one_sentence(companion("hear", clip, "--second", "crystal"), 2)
