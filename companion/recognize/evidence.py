"""Evidence that an utterance is a call at all: the search held to the grammar compared with free
decoding.

A search held to the grammar always finds some call. Free decoding of the same sound says what
it was if it was something else: then the two texts differ, and the held one scores badly.
"""

from __future__ import annotations

import math
import re
from dataclasses import astuple, dataclass

from companion.recognize.free import FreeText
from companion.recognize.weighing import Weighed

_LETTERS_OF_UNITS = re.compile(r"\bpsi\b")
_NO_SPEECH = re.compile(r"\([^)]*\)?|\[[^\]]*\]?|\*[^*]*\*?|♪")
"""How the decoder writes sounds that are no speech: "(engine revving)"."""
_LONGEST_NUMBER = 5
"""Digits; longer runs are no number of the trade."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """What speaks for and against a call, each about 0 to 1 in size.

    Attributes:
        score: The held sentence's score by the decoder.
        score_each: The same for each of its tokens.
        free_better: How much more probable the free text is.
        log_probability_each: The held sentence's log probability for each of its tokens.
        longer: Logarithm of how much longer the free text is.
        shorter: Logarithm of how much shorter it is.
        phonemes: How much less probable its phonemes are than the best path through the sound.
        phonemes_each: The same for each of its phonemes.
        doubt: How unsure the phoneme network is of what it hears, in nats.
    """

    score: float
    score_each: float
    free_better: float
    log_probability_each: float
    longer: float
    shorter: float
    phonemes: float
    phonemes_each: float
    doubt: float


WEIGHTS = Evidence(
    score=0.26,
    score_each=1.22,
    free_better=-0.52,
    log_probability_each=0.54,
    longer=-0.45,
    shorter=0.15,
    phonemes=0.08,
    phonemes_each=0.61,
    doubt=-1.10,
)
"""How much each counts. A logistic regression, fitted by ``python -m tools.fit_evidence`` to tell
the calls whose best sentence was right from wrong ones, talk and shop noise, by the voices and the
people that may be tuned on; ``python -m tools.hearing`` measures what they do on other voices."""
CONSTANT = 1.99
"""Added to every sum."""


def evidence(weighed: Weighed, free: FreeText, free_words: str, doubt: float) -> Evidence:
    """Gather what speaks for and against a call.

    Args:
        weighed: The best sentence of the grammar.
        free: What free decoding made of the same sound.
        free_words: Its text.
        doubt: See ``companion.recognize.clearness``.
    """
    sentence = weighed.sentence
    tokens = max(1, len(sentence.tokens))
    longer = math.log((len(_letters(free_words)) + 3) / (len("".join(sentence.words)) + 3))
    return Evidence(
        score=_within(sentence.score, -15, 20) / 10,
        score_each=_fit_of_tokens(weighed),
        free_better=_within(free.log_probability - sentence.log_probability, -5, 25) / 10,
        log_probability_each=_within(sentence.log_probability / tokens, -10, 0) / 4,
        longer=_within(longer, 0, 2),
        shorter=_within(-longer, 0, 2),
        phonemes=_within(weighed.phonemes, -40, 0) / 10,
        phonemes_each=_fit_of_phonemes(weighed),
        doubt=_within(doubt, 0, 2),
    )


def _fit_of_tokens(weighed: Weighed) -> float:
    """The decoder's score of a sentence for each of its tokens: -2 to 2."""
    return _within(weighed.sentence.score / max(1, len(weighed.sentence.tokens)), -8, 8) / 4


def _fit_of_phonemes(weighed: Weighed) -> float:
    """By how many nats each of its phonemes is less probable than the best path: -4 to 0."""
    return _within(weighed.phonemes / weighed.count, -4, 0)


def call_confidence(
    found: Evidence, weights: Evidence = WEIGHTS, constant: float = CONSTANT
) -> float:
    """Estimate the probability that an utterance was a call, and the best sentence that call.

    Args:
        found: What speaks for and against it.
        weights: How much each counts.
        constant: Added to their sum.

    Returns:
        0 to 1.
    """
    pairs = zip(astuple(weights), astuple(found), strict=True)
    return 1 / (1 + math.exp(-constant - sum(weight * each for weight, each in pairs)))


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
