"""Words that calls have not, and that sound like words which they have."""

from __future__ import annotations

from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.grammar.compiled import load_grammar
from companion.grammar.pronounce import pronunciations
from companion.recognize.ctc import BLANK
from companion.recognize.other_words import OTHER_WORDS, better_word
from companion.recognize.phonemes import PHONEMES
from companion.recognize.pronunciation import ways_of
from tools.hearing.about_parts import Said, hear
from tools.hearing.callers import USUAL

GRAMMAR = load_grammar()
SURE = 0.9
"""Of each phoneme that is said, in its frame."""


def said(*words: str) -> np.ndarray:
    """What the network hears of words, each phoneme for a frame and a blank after it."""
    kinds = max(PHONEMES.values()) + 1
    sounds = [sound for word in words for sound in ways_of(word)[0]]
    frames = np.full((2 * len(sounds), kinds), (1 - SURE) / (kinds - 1))
    for number, sound in enumerate(sounds):
        frames[2 * number, sound] = SURE
        frames[2 * number + 1, BLANK] = SURE
    return np.log(frames)


@pytest.mark.parametrize(
    ("call", "spoken", "found"),
    [
        ("replaced muffler", "released muffler", ("replaced", "released")),
        ("inflated left tire", "deflated left tire", ("inflated", "deflated")),
        ("blocked fuel line", "unlocked fuel line", ("blocked", "unlocked")),
        ("plugged fuel line", "unplugged fuel line", ("plugged", "unplugged")),
        ("a plugged fuel line", "unplugged fuel line", ("plugged", "unplugged")),
        ("air filter frayed", "air filter free", ("frayed", "free")),
        # As it was said.
        ("replaced muffler", "replaced muffler", None),
        ("inflated left tire", "inflated left tire", None),
        # With the other word it is a call, and stands among the hypotheses by itself.
        ("cleaned fuel line", "closed fuel line", None),
        # Forms of one word say the same.
        ("opened fuel valve", "open fuel valve", None),
        # Nothing that is done to a part, or said of one.
        ("gap thirty thou", "gap thirteen thou", None),
    ],
)
def test_the_word_that_was_said_is_found(
    call: str, spoken: str, found: tuple[str, str] | None
) -> None:
    assert better_word(call.split(), said(*spoken.split()), GRAMMAR) == found


@given(seed=st.integers(0, 2**32))
def test_a_call_said_plainly_is_no_other(seed: int) -> None:
    words = GRAMMAR.generate(Random(seed))
    if all(ways_of(word) for word in words):
        assert better_word(words, said(*words), GRAMMAR) is None


def test_every_other_word_can_be_pronounced() -> None:
    beginnings = ("un", "dis", "re", "")
    assert not [
        word
        for word in OTHER_WORDS
        if not any(
            word.startswith(one) and pronunciations(word.removeprefix(one)) for one in beginnings
        )
    ]


@pytest.mark.parametrize("voice", ["rms", "us-man", "scotland"])
@pytest.mark.parametrize(
    "spoken",
    [
        "released fuel valve",
        "deflated left wheel",
        "connected spark plug wire",
        "locked fuel valve",
    ],
)
def test_what_no_call_says_is_never_recorded_as_another(spoken: str, voice: str) -> None:
    """By voices that nothing was fitted on; of many more, ``python -m tools.hearing --parts``."""
    taken = hear(Said(spoken, voice, 1.0, 0), "whisper", (), USUAL)
    assert taken.became in ("asked", "say again"), taken.taken
