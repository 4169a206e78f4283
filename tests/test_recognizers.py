"""What every recognizer that can be chosen keeps to: nothing else has to know which it is."""

from __future__ import annotations

import re
from functools import cache

import numpy as np
import pytest

from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import CallGrammar
from companion.grammar.files import own_rules_of
from companion.recognize.choose import ENGINES, available, choose
from companion.recognize.protocol import Recognizer, RecognizerUnavailable
from companion.recognize.streaming import UNKNOWN
from tests.sounds import NOISES, Samples, speak, with_pauses

LAMPS = "#JSGF V1.0; grammar lamps; public <call> = (bench | door) lamp (on | off);"


@cache
def grammar() -> CallGrammar:
    return CallGrammar(own_rules_of(LAMPS))


@cache
def ears(name: str) -> Recognizer | str:
    """A recognizer, listening; the sentence that says why it cannot be had here."""
    try:
        loaded = choose(name)
    except RecognizerUnavailable as error:
        return str(error)
    with pytest.raises(RuntimeError):
        loaded.recognize(np.zeros(SAMPLE_RATE, np.float32))
    loaded.listen_for(grammar())
    return loaded


def sounds() -> list[Samples]:
    silence = np.zeros(SAMPLE_RATE, np.float32)
    talk = with_pauses(speak("did you see the game last night", "rms"))
    call = with_pauses(speak("door lamp off", "rms"))
    return [silence, silence[:0], silence[:1], NOISES["engine"](2.0, seed=1), talk, call]


@pytest.mark.parametrize("name", ENGINES)
def test_it_hears_words_of_the_grammar_or_says_in_one_how_to_get_it(name: str) -> None:
    listening = ears(name)
    if isinstance(listening, str):
        assert re.fullmatch(r"[A-Z'].{20,}", listening)
        return
    assert listening.name
    for sound in sounds():
        recognition = listening.recognize(sound, call_sign_needed=False)
        assert recognition.engine == listening.name
        assert 0 <= recognition.call_confidence <= 1
        confidences = [each.confidence for each in recognition.hypotheses]
        assert sum(confidences) <= 1.001
        assert all(0 <= each <= 1 for each in confidences)
        scores = [each.score for each in recognition.hypotheses]
        assert scores == sorted(scores, reverse=True)
        words = {word for each in recognition.hypotheses for word in each.text.split()}
        assert words <= {*grammar().words, UNKNOWN}
    assert recognition.hypotheses[0].text == "door lamp off"
    assert isinstance(listening.transcribe(sounds()[-1]), str | None)


def test_at_least_one_can_be_had_here() -> None:
    assert any(not isinstance(ears(name), str) for name in ENGINES)


@pytest.mark.parametrize("name", ENGINES)
def test_checkup_says_whether_it_is_there_without_loading_it(name: str) -> None:
    (there, sentence) = next((there, said) for each, there, said in available() if each == name)
    assert there is not isinstance(ears(name), str)
    assert sentence


def test_auto_is_the_first_that_is_installed() -> None:
    heard = next(one for one in map(ears, ENGINES) if not isinstance(one, str))
    assert choose("auto").name == heard.name
