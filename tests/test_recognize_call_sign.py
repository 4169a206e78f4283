"""In open-mic mode what plainly does not begin with the call sign is never searched for calls."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from companion.grammar.compiled import load_grammar
from companion.intent.decision import decide_utterance
from companion.intent.outcome import Listening
from companion.recognize.call_sign import margin, may_begin_with
from companion.recognize.held import HeldRecognizer
from companion.recognize.phonemes import PHONEMES
from companion.recognize.pronunciation import ways_of
from companion.shelf.words import vocabulary_of
from tests.sounds import speak, with_pauses
from tools.hearing.manifest import in_noise
from tools.hearing.measure import ears_of

GRAMMAR = load_grammar()
OPEN = Listening(call_sign_needed=True)
BENCH = ways_of("bench")


def ears() -> HeldRecognizer:
    """The one that other files hear by as well."""
    recognizer, _ = ears_of("whisper")
    assert isinstance(recognizer, HeldRecognizer)
    return recognizer


def outcome(said: str, voice: str, noise: str = "clean", level: float = 0.0) -> str:
    sound = in_noise(with_pauses(speak(said, voice)), noise, level, seed=1)
    heard = ears().recognize(sound, call_sign_needed=True)
    return decide_utterance(heard, GRAMMAR, OPEN).outcome


def frames(*spoken: str, floor: float = -6.0) -> np.ndarray:
    """Frames in which these phonemes are nearly certain, two frames each; "-" is none."""
    rows = []
    for name in spoken:
        row = np.full(40, floor, dtype=np.float32)
        row[PHONEMES.get(name, 0)] = -0.05
        rows += [row, row]
    return np.array(rows)


# --- by phonemes -------------------------------------------------------------------------------
def test_what_begins_with_the_call_sign_may_be_a_call() -> None:
    heard = frames("-", "B", "EH", "N", "CH", "-", "G", "AE", "P")
    assert margin(heard, BENCH[0]) == pytest.approx(0.0)
    assert may_begin_with(heard, BENCH)


def test_what_has_none_of_its_sounds_may_not() -> None:
    heard = frames("-", "W", "AH", "T", "T", "AY", "M", "IH", "Z", "IH", "T")
    assert margin(heard, BENCH[0]) < -15
    assert not may_begin_with(heard, BENCH)


def test_it_must_come_at_the_beginning() -> None:
    late = frames(*["-", "AH"] * 50, "B", "EH", "N", "CH")
    assert not may_begin_with(late, BENCH)


def test_with_a_call_sign_that_nobody_can_pronounce_everything_is_searched() -> None:
    assert may_begin_with(frames("AH"), ())


@given(arrays(np.float32, (30, 40), elements=st.floats(-20, 0, width=32)))
def test_the_margin_is_never_above_nothing(log_probabilities: np.ndarray) -> None:
    assert margin(log_probabilities, BENCH[0]) <= 1e-6


@given(arrays(np.float32, (5, 4), elements=st.floats(-20, 0, width=32)))
def test_the_margin_is_that_of_the_best_of_all_alignments(log_probabilities: np.ndarray) -> None:
    """By the definition: each way to lay "1, 2" into the frames, blanks between, enumerated."""
    below = log_probabilities - log_probabilities.max(axis=1, keepdims=True)
    best = max(
        float(sum(below[begin + place, kind] for place, kind in enumerate(path)))
        for begin in range(5)
        for length in range(2, 6 - begin)
        for path in itertools.product((0, 1, 2), repeat=length)
        if path[0] == 1 and path[-1] == 2
        if [kind for kind, _ in itertools.groupby(path) if kind] == [1, 2]
    )
    assert margin(log_probabilities, (1, 2)) == pytest.approx(best, abs=1e-4)


def test_a_louder_doubt_of_one_of_its_sounds_lowers_the_margin() -> None:
    heard = frames("B", "EH", "N", "CH")
    doubted = heard.copy()
    doubted[2:4, PHONEMES["EH"]] = -9
    doubted[2:4, PHONEMES["AH"]] = -0.05
    assert margin(doubted, BENCH[0]) < margin(heard, BENCH[0])


# --- by ear --------------------------------------------------------------------------------------
@pytest.mark.parametrize("voice", ["gb", "slt-hts", "rms"])
def test_a_call_with_the_call_sign_is_taken(voice: str) -> None:
    assert outcome("bench gap thirty thou", voice) == "record"
    assert outcome("bench oil level full", voice, "engine", 10.0) in ("record", "ask")


@pytest.mark.parametrize("said", ["gap thirty thou", "tag no oil", "what time is it"])
def test_without_it_nothing_is_even_searched(said: str) -> None:
    heard = ears().recognize(with_pauses(speak(said, "rms")), call_sign_needed=True)
    assert heard.hypotheses == ()
    decision = decide_utterance(heard, GRAMMAR, OPEN)
    assert (decision.outcome, decision.reasons) == ("ignore", ("no call sign",))


def test_the_call_sign_is_that_of_the_shop() -> None:
    assert load_grammar(vocabulary_of(None, None, "hey shop")).call_sign == ("hey", "shop")
