"""Completion of typed calls from the active grammar: plain forms first, never a figure."""

from __future__ import annotations

import random
from functools import cache

import pytest

from companion.grammar.compiled import CallGrammar, load_grammar
from companion.intent.numbers import NUMBER_WORDS
from companion.intent.text import respelled, typed_words
from companion.screen.flow import line_columns, line_text
from companion.screen.offers import Offers, offers
from companion.screen.strip import choice_line, strip_line
from companion.shelf.load import load_card, load_sheet
from companion.shelf.words import vocabulary_of

FIGURES = NUMBER_WORDS - {"negative"}
"""The answer "negative" is none."""
UNITS = {"gap": "thou", "compression": "psi", "play": "inch"}


@cache
def grammar() -> CallGrammar:
    card, sheet = load_card("four-stroke-service"), load_sheet("quillmoor-tiller")
    return load_grammar(vocabulary_of(card, sheet, "bench"))


def offered(text: str, *awaited: str) -> Offers:
    return offers(text, grammar(), frozenset(awaited), UNITS)


def texts(text: str, *awaited: str) -> list[str]:
    return [each.strip() for each in offered(text, *awaited).texts]


def test_the_words_begun_are_completed_to_plain_calls_first() -> None:
    assert texts("ga")[0] == "gap"
    assert texts("how")[0].startswith("how much more") or texts("how ")[0] == "much more"
    assert texts("clear t")[:2] == ["tag", "to start"]


def test_names_of_the_job_are_offered_whole() -> None:
    assert texts("checked spark p")[0] == "plug"
    assert texts("checked sp")[:2] == ["spark screen", "spark plug"]
    assert texts("tag no ") == ["fuel", "gear oil", "oil"]
    assert "set gap" in texts("go to step s")


def test_what_the_step_waits_for_comes_first() -> None:
    assert texts("checked ")[0] != "muffler"
    assert texts("checked ", "muffler")[0] == "muffler"


def test_after_a_figure_come_units_the_one_of_the_sheet_first() -> None:
    assert texts("gap 30 ") == ["thou", "inches", "millimeters"]
    assert texts("play 1/8 ")[0] == "inches"
    assert texts("compression 90 p") == ["psi"]
    assert texts("added 20 ounces ")[0].startswith("of ")


def test_before_a_figure_nothing_is_offered_but_the_unit_is_hinted_at() -> None:
    for begun in ("gap ", "gap 3", "gap 30"):
        assert offered(begun).texts == ()
        assert offered(begun).units == ("thou", "inches", "millimeters")
    assert offered("added ").units[0] == "ounces"


def test_a_call_begun_with_the_call_sign_is_completed_as_well() -> None:
    assert texts("bench ga")[0] == "gap"
    assert texts("bench tag no ") == texts("tag no ")


def test_nothing_is_offered_in_free_words_nor_after_what_is_no_call() -> None:
    for text in ("note the customer ", "xyz ", "gap thirty thou ", "what on earth "):
        assert offered(text).texts == ()


def test_a_space_follows_where_the_call_cannot_end() -> None:
    assert offered("ta").texts[0] == "tag "
    assert offered("tag no o").texts == ("oil",)


def beginnings() -> list[str]:
    """Beginnings of calls that the grammar makes up, cut anywhere."""
    chance = random.Random(20260411)
    calls = (" ".join(grammar().generate(chance)) for _ in range(400))
    return sorted({call[: chance.randint(0, len(call))] for call in calls})


def test_no_figure_is_ever_guessed_and_whatever_is_offered_may_follow() -> None:
    tried = 0
    for begun in beginnings():
        found = offered(begun)
        before = begun[: len(begun) - len(found.begun)]
        for text in found.texts:
            tried += 1
            assert not FIGURES.intersection(text.split()), (begun, text)
            assert text.startswith(found.begun)
            words = (
                way
                for typed in typed_words(before + text)
                for way in respelled(typed, grammar().words)
            )
            assert any(grammar().walk(each) is not None for each in words), (begun, text)
    assert tried > 1000


@pytest.mark.parametrize("width", [20, 40, 80, 200])
def test_the_strip_is_never_wider_than_the_terminal(width: int) -> None:
    for text in ("", "g", "gap ", "checked ", "added ", "convert 30 "):
        assert line_columns(strip_line(offered(text), width)) <= width
    names = [each.strip() for each in offered("checked ").texts]
    for place in range(len(names)):
        line = choice_line(names, place, width)
        assert line_columns(line) <= width
        assert f"[{names[place]}]" in line_text(line)


def test_the_strip_says_what_unit_the_figure_is_in() -> None:
    assert line_text(strip_line(offered("gap "), 80)) == "in thou, inches or millimeters"
    assert line_text(strip_line(offered("gap 30 t"), 80)) == "thou"


def test_after_a_figure_in_digits_only_units_in_which_it_can_be_called() -> None:
    assert texts("gap .030 ") == ["inches", "millimeters"]


def test_british_spelling_and_a_missing_apostrophe_do_not_matter() -> None:
    assert "the" not in texts("whats ")
    assert texts("what's lef") == texts("whats lef") == ["left"]
