"""What is named to somebody who was not understood: plain calls of this grammar, or nothing."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.grammar.compiled import CallGrammar, load_grammar
from companion.intent.interpret import understand
from companion.intent.opposites import OPPOSED, opposites
from companion.intent.outcome import Decision, Listening
from companion.intent.plain_calls import FAMILIES, frames_of, names_of
from companion.intent.suggested import MOST, suggested, take_instead
from companion.shelf.load import load_card, load_sheet
from companion.shelf.words import vocabulary_of
from companion.speak.wording import word_not_understood

GRAMMAR = load_grammar()
JOB = load_grammar(
    vocabulary_of(load_card("four-stroke-service"), load_sheet("quillmoor-tiller"), "bench")
)


def answered(typed: str, grammar: CallGrammar = GRAMMAR) -> tuple[Decision, tuple[str, ...]]:
    decision = understand(typed, grammar, Listening(answer_awaited=True))
    return decision, take_instead(decision, None, grammar)


@pytest.mark.parametrize(
    ("typed", "take"),
    [
        ("oil twenty ounces", ("added", "drained", "oil level full")),
        ("fed her twenty ounces of oil", ("added",)),
        ("exchanged the spark plug", ("replaced spark plug",)),
        ("the muffler is sort of cracked", ("muffler cracked",)),
        ("is it fine to start", ("clear to start", "start timer")),
        ("set the clock for ten minutes", ("start timer",)),
        ("how much time is there left", ("time left",)),
        ("hang a tag for oil", ("tag no oil",)),
        ("remove tag", ("clear tag",)),
        ("i need to buy a fuel filter", ("need fuel filter",)),
        ("return to the carburetor", ("follow up carburetor",)),
        ("please show me the gap", ("read back gap",)),
        ("remind me after ten minutes", ("start timer",)),
        ("check the gap for me", ("spec for gap", "gap")),
        ("all complete with this", ("step done",)),
        ("my wife called about dinner", ()),
        ("hello there", ()),
    ],
)
def test_near_calls_are_named(typed: str, take: tuple[str, ...]) -> None:
    assert answered(typed)[1] == take


@pytest.mark.parametrize(
    "typed",
    [
        "torque thirty",
        "thirty thou",
        "oil level not full",
        "ring gap thirty thou",
        "gap thirty psi",
    ],
)
def test_a_reason_that_says_what_is_missing_stands_alone(typed: str) -> None:
    decision = understand(typed, JOB, Listening())
    assert decision.outcome == "say-again"
    assert take_instead(decision, None, JOB) == ()


def test_a_call_that_was_heard_badly_is_to_be_said_again_and_nothing_else() -> None:
    heard = Decision("say-again", "gap thirty thou", (), 0.3, ("low confidence",))
    assert take_instead(heard, "gap thirty though", GRAMMAR) == ()


def test_what_an_engine_was_held_to_speaks_for_nothing_where_it_has_no_free_draft() -> None:
    forced = Decision("say-again", "hooked up axle", (), 0.1, ("no call of the grammar",))
    assert take_instead(forced, None, GRAMMAR) == ()
    assert take_instead(forced, "Fed her 20oz of oil.", GRAMMAR)[0] == "added"


def test_whoever_starts_an_engine_is_not_told_to_call_it_running() -> None:
    assert "engine running" not in answered("start the engine")[1]


def test_it_is_said_in_one_breath() -> None:
    assert word_not_understood((), ("added", "drained", "oil level full")).text == (
        "Say again. I take: added, drained, or oil level full."
    )
    assert word_not_understood((), ("added",)).text == "Say again. I take: added."
    assert word_not_understood(("no call is like this",)).text == "Say again, or say help."
    assert word_not_understood(("no call of the grammar",)).text == "Say again."


def test_every_plain_call_of_the_table_is_one_of_the_shipped_grammar() -> None:
    listed = {text.removesuffix(" …") for _, texts in FAMILIES for text in texts}
    assert {" ".join(frame.parts) for frame in frames_of(GRAMMAR)} == listed


WORDS = sorted(
    GRAMMAR.words
    | JOB.words
    | OPPOSED
    | {"fed", "what", "should", "thing", "carburator", "20", "[unk]", "bench", "zebra"}
)


@given(said=st.lists(st.sampled_from(WORDS), max_size=8), job=st.booleans())
@settings(max_examples=400)
def test_whatever_is_named_is_a_call_or_the_beginning_of_one(said: list[str], *, job: bool) -> None:
    grammar = JOB if job else GRAMMAR
    take = suggested(said, grammar)
    assert len(take) <= MOST
    assert len(set(take)) == len(take)
    for call in take:
        assert grammar.walk(call.split()) is not None, call


VERBS = ("added", "drained", "raised", "lowered", "tightened", "loosened", "opened", "closed")


@given(verb=st.sampled_from(VERBS), part=st.sampled_from(sorted(names_of(GRAMMAR)["part"])))
def test_the_opposite_of_what_was_said_is_never_named(verb: str, part: tuple[str, ...]) -> None:
    for other in sorted(opposites(verb) - {verb}):
        if other in GRAMMAR.words:
            continue
        for call in suggested((other, *part, "somehow"), GRAMMAR):
            assert verb not in set(call.split()) - set(part), (other, call)
