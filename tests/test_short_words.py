"""Short words decide much with little sound: each has one meaning in each situation."""

from __future__ import annotations

import pytest

from companion.grammar.compiled import load_grammar
from companion.intent.decision import SHORT_ANSWER, decide_utterance
from companion.intent.intents import Intent, TagHang, Work
from companion.intent.interpret import understand
from companion.intent.outcome import Decision, Listening
from companion.intent.short_words import (
    NEEDING_THE_CALL_SIGN,
    SHORT_WORDS,
    answers_alone,
    needs_call_sign,
    off,
    on,
)
from companion.recognize.protocol import Hypothesis, Recognition

GRAMMAR = load_grammar()
ANSWERING = Listening(answer_awaited=True)


def typed(text: str) -> Decision:
    return understand(text, GRAMMAR, ANSWERING)


def plainly(text: str) -> tuple[Intent, ...]:
    return typed(text).intents


def heard(text: str, *, question: bool = False) -> Decision:
    listening = Listening(call_sign_needed=not question, answer_awaited=question, open_mic=True)
    recognition = Recognition("test", (Hypothesis(text, 0.0, 1.0),), 1.0, None, 0.0)
    return decide_utterance(recognition, GRAMMAR, listening)


@pytest.mark.parametrize(
    ("part", "taken_off", "put_on"),
    [
        ("plug wire", "disconnected", "connected"),
        ("fuel line", "disconnected", "connected"),
        ("battery", "disconnected", "connected"),
        ("fuel valve", "closed", "opened"),
        ("drive belt", "removed", "installed"),
        ("drain plug", "removed", "installed"),
        ("needle valve", "removed", "installed"),
    ],
)
def test_off_and_on_mean_one_thing_of_each_part(part: str, taken_off: str, put_on: str) -> None:
    assert (off(part), on(part)) == (taken_off, put_on)
    (work,) = plainly(f"{part} is off")
    assert work == Work(action=taken_off, part=part)
    (work,) = plainly(f"{part} back on")
    assert work == Work(action=put_on, part=part)


def test_a_part_off_that_is_a_tag_too_is_asked_about_and_both_are_named() -> None:
    decision = typed("plug wire off")
    assert decision.outcome == "ask"
    assert decision.intents == (
        Work(action="disconnected", part="plug wire"),
        TagHang(tag="plug wire off"),
    )


@pytest.mark.parametrize(
    ("said", "plain"),
    [
        ("twenty ounces of oil in", "added twenty ounces of oil"),
        ("twenty ounces of oil out", "drained twenty ounces of oil"),
        ("done", "step done"),
        ("finished", "step done"),
        ("next", "next step"),
        ("back", "step back"),
        ("right", "affirm"),
        ("nope", "negative"),
        ("again", "say again"),
        ("running", "engine running"),
        ("wait", "stand by"),
        ("no thirty one thou", "correction thirty one thou"),
        ("right wheel loose", "right wheel loose"),
    ],
)
def test_each_has_the_meaning_that_the_table_gives(said: str, plain: str) -> None:
    assert typed(said).outcome == "record"
    assert plainly(said) == plainly(plain)


@pytest.mark.parametrize("word", ["off", "out", "in", "on"])
def test_alone_these_mean_nothing(word: str) -> None:
    assert typed(word).outcome == "say-again"


@pytest.mark.parametrize("word", sorted(NEEDING_THE_CALL_SIGN))
def test_in_open_mic_each_needs_the_call_sign(word: str) -> None:
    assert needs_call_sign((word,))
    for question in (False, True):
        assert heard(word, question=question).outcome in ("ignore", "say-again")
    if word in GRAMMAR.words and typed(word).outcome == "record":
        assert heard(f"bench {word}", question=True).outcome == "record"


@pytest.mark.parametrize("word", ["yes", "no", "right", "yep"])
def test_a_short_answer_without_it_is_told_how_to_answer(word: str) -> None:
    assert answers_alone((word,))
    decision = heard(word, question=True)
    assert (decision.outcome, decision.reasons) == ("say-again", (SHORT_ANSWER,))


@pytest.mark.parametrize("word", ["affirm", "negative"])
def test_the_words_made_for_answering_need_none(word: str) -> None:
    assert heard(word, question=True).outcome == "record"


def test_the_table_gives_each_word_one_meaning_in_each_situation() -> None:
    seen: dict[tuple[str, str], set[str]] = {}
    for row in SHORT_WORDS:
        assert row.why
        for word in row.words:
            seen.setdefault((word, row.situation), set()).add(row.means)
    several = {key for key, means in seen.items() if len(means) > 1}
    # What "off" and "on" say of a part depends on the part, and only on the part.
    assert {situation for _, situation in several} == {"after a part"}


@pytest.mark.parametrize("said", ["choke off", "choke is on", "pulled the choke"])
def test_of_the_choke_they_say_nothing_certain(said: str) -> None:
    assert typed(said).outcome == "say-again"
