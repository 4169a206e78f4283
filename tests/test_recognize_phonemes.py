"""The second opinion of the embedded recognizer: which phonemes a sound holds."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.grammar.compiled import load_grammar
from companion.recognize.constrained_decoding import Sentence
from companion.recognize.ctc import BLANK, best_path, log_likelihoods
from companion.recognize.phoneme_search import likeliest_sentences
from companion.recognize.phonemes import PHONEMES, Floats, PhonemeNetwork
from companion.recognize.prefix_tree import PrefixTree
from companion.recognize.pronunciation import ways_of, ways_to_say
from companion.recognize.weighing import UNSAYABLE, weigh


def frames_of(frames: Sequence[int], sure: float = 0.9, kinds: int = 40) -> Floats:
    """Frames in which one phoneme, or the blank, is nearly sure."""
    shares = np.full((len(frames), kinds), (1 - sure) / (kinds - 1))
    shares[np.arange(len(frames)), frames] = sure
    return np.log(shares).astype(np.float32)


def spoken(text: str, held: int = 2) -> Floats:
    """A sound of these words: each phoneme held for a few frames with silence after it."""
    (way, *_) = ways_to_say(text.split())
    return frames_of([kind for phoneme in way for kind in (*[phoneme] * held, BLANK)])


def collapsed(path: Sequence[int]) -> tuple[int, ...]:
    return tuple(kind for kind, _ in itertools.groupby(path) if kind != BLANK)


@settings(deadline=None, max_examples=40)
@given(st.integers(0, 10_000), st.integers(2, 5), st.integers(1, 3))
def test_the_probability_of_a_sequence_is_the_sum_over_every_path_that_says_it(
    seed: int, frames: int, length: int
) -> None:
    """Graves et al., 2006, by the definition: all paths enumerated."""
    random = np.random.default_rng(seed)
    log_probabilities = np.log(random.dirichlet(np.ones(4), size=frames)).astype(np.float32)
    sequence = tuple(int(kind) for kind in random.integers(1, 4, size=length))
    total = sum(
        float(np.exp(sum(log_probabilities[t, kind] for t, kind in enumerate(path))))
        for path in itertools.product(range(4), repeat=frames)
        if collapsed(path) == sequence
    )
    (found,) = log_likelihoods(log_probabilities, [sequence])
    assert np.exp(found) == pytest.approx(total, rel=1e-4, abs=1e-12)


def test_sequences_of_different_lengths_are_worked_out_together() -> None:
    log_probabilities = spoken("gap thirty thou")
    ways = [ways_to_say(text.split())[0] for text in ("gap thirty thou", "roger", "time left")]
    together = log_likelihoods(log_probabilities, ways)
    alone = [float(log_likelihoods(log_probabilities, [way])[0]) for way in ways]
    assert together == pytest.approx(alone)
    assert together.argmax() == 0


@pytest.mark.parametrize(
    "call", ["gap thirty thou", "affirm", "clear to start", "compression one twenty p s i"]
)
def test_the_search_finds_what_the_phonemes_say(call: str) -> None:
    tree = PrefixTree(load_grammar(), ways_of)
    found = likeliest_sentences(spoken(call), tree)[:8]
    assert found[0] == tuple(call.split())
    assert all(load_grammar().parse(words) for words in found)
    assert len(set(found)) == len(found)


def test_the_search_ranks_by_the_probability_of_the_phonemes() -> None:
    log_probabilities = spoken("gap thirty thou")
    found = likeliest_sentences(log_probabilities, PrefixTree(load_grammar(), ways_of))[:6]
    likelihoods = [max(log_likelihoods(log_probabilities, ways_to_say(words))) for words in found]
    assert likelihoods == pytest.approx(sorted(likelihoods, reverse=True), abs=0.7)


def test_noise_without_phonemes_is_no_sentence_or_a_hardly_probable_one() -> None:
    log_probabilities = frames_of([BLANK] * 60, sure=0.999)
    for words in likeliest_sentences(log_probabilities, PrefixTree(load_grammar(), ways_of))[:3]:
        assert (
            max(log_likelihoods(log_probabilities, ways_to_say(words)))
            - best_path(log_probabilities)
            < -15
        )


def test_thou_is_said_as_in_thousandth() -> None:
    assert ways_of("thou") == ((PHONEMES["TH"], PHONEMES["AW"]),)


def test_a_word_that_nobody_can_pronounce_neither_gains_nor_loses() -> None:
    log_probabilities = spoken("gap thirty thou")
    said = Sentence(("gap", "thirty", "thou"), (1,), 0.0, 0.0)
    strange = Sentence(("gap", "thirty", "qzxv"), (1,), 0.0, 0.0)
    wrong = Sentence(("compression", "ninety", "p", "s", "i"), (1,), 0.0, 0.0)
    ranked = weigh((strange, wrong, said), log_probabilities)
    assert [each.sentence for each in ranked] == [said, strange, wrong]
    assert ranked[1].phonemes == UNSAYABLE


def test_without_a_network_for_the_model_the_decoder_alone_ranks() -> None:
    scores = (("a", 2.0), ("b", 1.0))
    first, second = (Sentence((word,), (1,), score, 0.0) for word, score in scores)
    assert [each.sentence for each in weigh((first, second), None)] == [first, second]


def test_the_network_gives_probabilities_for_every_frame() -> None:
    network = PhonemeNetwork()
    encoded = np.random.default_rng(0).standard_normal((7, network.width)).astype(np.float32)
    log_probabilities = network.log_probabilities(encoded)
    assert log_probabilities.shape == (7, len(PHONEMES) + 1)
    assert np.exp(log_probabilities).sum(axis=1) == pytest.approx(np.ones(7), abs=1e-4)
