"""How much speaks for an utterance being a call at all: the held search against free decoding.

A search held to the grammar always finds some call. Free decoding of the same sound says what
it was if it was something else: then the two texts differ, and the held one scores badly.
"""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass

from companion.recognize.free import FreeText
from companion.recognize.search import Sentence

_LETTERS_OF_UNITS = re.compile(r"\bpsi\b")
_NO_SPEECH = re.compile(r"\([^)]*\)?|\[[^\]]*\]?|\*[^*]*\*?|♪")
"""How the decoder writes what it takes for a sound and not for speech: "(engine revving)"."""
_LONGEST_NUMBER = 5
"""Digits; longer runs are no number of the trade."""


@dataclass(frozen=True, slots=True)
class Weights:
    """Weights of a logistic regression.

    Fitted by maximum likelihood on 797 calls, pieces of talk and shop noise, clean and in noise,
    spoken by four synthetic voices, to tell the calls whose best sentence was right from all
    else; ``python -m tests.hearing`` measures what they do on other voices. The likeness of the
    texts adds nothing to the lengths and scores, and so weighs next to nothing.

    Attributes:
        constant: Added to every sum.
        score: Of the held sentence's score.
        score_each: Of its score for each of its tokens.
        free_better: Of how much more probable the free text is.
        heard_each: Of the held sentence's log probability for each of its tokens.
        likeness: Of the likeness of the two texts, 0 to 1.
        longer: Of the logarithm of how much longer the free text is.
        shorter: Of the logarithm of how much shorter it is.
    """

    constant: float = -0.6
    score: float = 0.41
    score_each: float = 6.23
    free_better: float = -0.33
    heard_each: float = -1.92
    likeness: float = -0.27
    longer: float = -2.47
    shorter: float = -1.18


FITTED = Weights()
"""The weights in use."""


def call_confidence(
    sentence: Sentence, free: FreeText, free_words: str, weights: Weights = FITTED
) -> float:
    """Estimate the probability that an utterance was a call, and this one, 0 to 1.

    Args:
        sentence: The best one of the grammar.
        free: What free decoding made of the same sound.
        free_words: Its text.
        weights: How much each piece of evidence counts.
    """
    tokens = max(1, len(sentence.tokens))
    heard = _letters(free_words)
    held = "".join(sentence.words)
    likeness = difflib.SequenceMatcher(None, heard, held, autojunk=False).ratio()
    longer = math.log((len(heard) + 3) / (len(held) + 3))
    total = (
        weights.constant
        + weights.score * _within(sentence.score, -15, 20) / 10
        + weights.score_each * _within(sentence.score / tokens, -8, 8) / 4
        + weights.free_better * _within(free.heard - sentence.heard, -5, 25) / 10
        + weights.heard_each * _within(sentence.heard / tokens, -10, 0) / 4
        + weights.likeness * likeness
        + weights.longer * _within(longer, 0, 2)
        + weights.shorter * _within(-longer, 0, 2)
    )
    return 1 / (1 + math.exp(-total))


def said_once(text: str) -> str:
    """Return a text without its own repetition: a short window makes the decoder go in circles."""
    words = text.split()
    bare = [re.sub(r"[^a-z0-9]", "", word.lower()) for word in words]
    for period in range(1, len(words) // 2 + 1):
        if bare[period : 2 * period] == bare[:period]:
            return " ".join(words[:period])
    return text


def _letters(text: str) -> str:
    """A text as letters alone, with numbers in words, as the grammar writes them."""
    from num2words import num2words

    text = _LETTERS_OF_UNITS.sub("p s i", _NO_SPEECH.sub(" ", said_once(text).lower()))
    words = re.sub(r"[^a-z0-9 ]", " ", text).split()
    spoken = (
        num2words(int(word)) if word.isdigit() and len(word) <= _LONGEST_NUMBER else word
        for word in words
    )
    return re.sub(r"[^a-z0-9]", "", "".join(spoken))


def _within(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)
