"""The automaton against two oracles that share no code with it: regular expressions, and trees
worked out straight from the definition."""

from __future__ import annotations

import re
from itertools import product
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.errors import CompanionError
from companion.grammar.ambiguity import ambiguities
from companion.grammar.automaton import WordAutomaton
from companion.grammar.compiled import CallGrammar, load_grammar
from companion.grammar.jsgf import (
    Alternatives,
    Expansion,
    Null,
    Optional,
    Repeat,
    Sequence,
    Tagged,
    Void,
    Word,
    parse_jsgf,
)
from companion.grammar.linking import link
from companion.grammar.parse_tree import Node, Parse
from tests.networks import Ways, compile_network

LETTERS = "abc"
SHORT = [words for length in range(5) for words in product(LETTERS, repeat=length)]
"""Every sentence of up to four words."""


def grammar(body: str) -> CallGrammar:
    text = f"#JSGF V1.0;\ngrammar toys;\npublic <call> = {body};"
    return CallGrammar(link(parse_jsgf(text, "toys.gram"), "call", lambda name: None))


def written(expansion: Expansion) -> str:
    match expansion:
        case Word(text):
            return text
        case Null():
            return "<NULL>"
        case Void():
            return "<VOID>"
        case Sequence(items):
            return "(" + " ".join(map(written, items)) + ")"
        case Alternatives(choices, _):
            return "(" + " | ".join(map(written, choices)) + ")"
        case Optional(item):
            return f"[{written(item)}]"
        case Repeat(item, at_least_once):
            return f"({written(item)}){'+' if at_least_once else '*'}"
        case Tagged(item, tags):
            return f"({written(item)})" + "".join(f"{{{tag}}}" for tag in tags)
    raise AssertionError(expansion)


def as_regular_expression(expansion: Expansion) -> str:
    match expansion:
        case Word(text):
            return text
        case Null():
            return "(?:)"
        case Void():
            return "(?!)"
        case Sequence(items):
            return "".join(f"(?:{as_regular_expression(item)})" for item in items)
        case Alternatives(choices, _):
            return "|".join(f"(?:{as_regular_expression(item)})" for item in choices)
        case Optional(item):
            return f"(?:{as_regular_expression(item)})?"
        case Repeat(item, at_least_once):
            return f"(?:{as_regular_expression(item)}){'+' if at_least_once else '*'}"
        case Tagged(item, _):
            return as_regular_expression(item)
    raise AssertionError(expansion)


def trees(
    expansion: Expansion, words: tuple[str, ...], start: int
) -> set[tuple[int, tuple[Node, ...]]]:
    """Every way to match from ``start``: where it ends, and the nodes. By the definition alone."""
    match expansion:
        case Word(text):
            return {(start + 1, ())} if words[start : start + 1] == (text,) else set()
        case Null():
            return {(start, ())}
        case Void():
            return set()
        case Sequence(items):
            found = {(start, ())}
            for item in items:
                found = {
                    (after, nodes + more)
                    for end, nodes in found
                    for after, more in trees(item, words, end)
                }
            return found
        case Alternatives(choices, _):
            return set().union(*(trees(choice, words, start) for choice in choices))
        case Optional(item):
            return {(start, ())} | trees(item, words, start)
        case Repeat(item, at_least_once):
            first = trees(item, words, start)
            again = {
                (after, nodes + more)
                for end, nodes in first
                if end > start
                for after, more in trees(Repeat(item, at_least_once=False), words, end)
            }
            silent = {(end, nodes) for end, nodes in first if end == start}
            if not at_least_once:
                return {(start, ())} | again
            # A first round without a word may still be followed by rounds with some.
            later = {
                (after, nodes + more)
                for end, nodes in silent
                for after, more in trees(Repeat(item, at_least_once=False), words, end)
            }
            return again | later
        case Tagged(item, (tag,)):
            return {
                (end, (Node(tag, None, start, end, nodes),))
                for end, nodes in trees(item, words, start)
            }
    raise AssertionError(expansion)


words = st.sampled_from(LETTERS).map(Word)
expansions: st.SearchStrategy[Expansion] = st.recursive(
    st.one_of(words, words, words, st.just(Null()), st.just(Void())),
    lambda inner: st.one_of(
        st.lists(inner, min_size=2, max_size=3).map(lambda items: Sequence(tuple(items))),
        st.lists(inner, min_size=2, max_size=3).map(
            lambda items: Alternatives(tuple(items), (1.0,) * len(items))
        ),
        inner.map(Optional),
        st.builds(Repeat, inner, st.booleans()),
        st.builds(lambda item, tag: Tagged(item, (tag,)), inner, st.sampled_from("xy")),
    ),
    max_leaves=8,
)


@given(expansions)
@settings(deadline=None)
def test_deterministic_view_network_and_regular_expression_accept_the_same(
    expansion: Expansion,
) -> None:
    found = grammar(written(expansion))
    network = Ways(compile_network(found.rules))
    expression = re.compile(as_regular_expression(expansion))
    for sentence in SHORT:
        right = expression.fullmatch("".join(sentence)) is not None
        state = found.walk(sentence)
        assert (state is not None and found.is_final(state)) is right
        assert network.accepts(sentence) is right
        assert bool(found.parse(sentence)) is right


@given(expansions)
@settings(deadline=None)
def test_parse_gives_every_distinct_tree_once(expansion: Expansion) -> None:
    found = grammar(written(expansion))
    for sentence in SHORT:
        parses = found.parse(sentence)
        right = {
            Parse(sentence, nodes)
            for end, nodes in trees(expansion, sentence, 0)
            if end == len(sentence)
        }
        assert set(parses) == right
        assert len(parses) == len(right)


@given(expansions)
@settings(deadline=None)
def test_automaton_is_minimal_and_has_no_dead_ends(expansion: Expansion) -> None:
    automaton = grammar(written(expansion)).automaton
    kinds = [0] * len(automaton.arcs)
    # Moore's refinement by itself, from accepting or not, until nothing splits.
    for _ in automaton.arcs:
        rows = [
            (state in automaton.finals, tuple((w, kinds[t]) for w, t in sorted(row.items())))
            for state, row in enumerate(automaton.arcs)
        ]
        kinds = [rows.index(row) for row in rows]
    assert len(set(kinds)) == len(automaton.arcs)
    assert all(can_end(automaton, state) for state in range(1, len(automaton.arcs)))


def can_end(automaton: WordAutomaton, state: int) -> bool:
    reached = [state]
    for here in reached:
        reached += [t for t in automaton.arcs[here].values() if t not in reached]
    return not automaton.finals.isdisjoint(reached)


@given(expansions, st.randoms(use_true_random=False))
@settings(deadline=None)
def test_every_generated_sentence_is_a_sentence(expansion: Expansion, random: Random) -> None:
    found = grammar(written(expansion))
    if not found.automaton.finals:
        with pytest.raises(CompanionError, match="Nothing can be said"):
            found.generate(random)
        return
    for _ in range(10):
        assert found.parse(found.generate(random))


@given(expansions)
@settings(deadline=None)
def test_ambiguities_are_found_exactly(expansion: Expansion) -> None:
    found = grammar(written(expansion))
    reported = ambiguities(found.rules)
    assert all(len(found.parse(case.one.words)) > 1 for case in reported)
    assert all(case.one != case.other for case in reported)
    if any(len(found.parse(sentence)) > 1 for sentence in SHORT):
        assert reported


def test_every_alternative_is_drawn_and_weights_count() -> None:
    found = grammar("(/1/ a | /3/ b) [c] d*")
    random = Random(7)
    drawn = [found.generate(random) for _ in range(2000)]
    assert {("a",), ("b",), ("a", "c"), ("b", "c", "d", "d")} <= set(drawn)
    share = sum(sentence[0] == "b" for sentence in drawn) / len(drawn)
    assert 0.70 < share < 0.80  # three in four, give or take five standard deviations


def test_tags_side_by_side_on_one_expansion() -> None:
    (parse,) = grammar("(half (an hour {unit=hour})) {number=0.5} {duration}").parse(
        ["half", "an", "hour"]
    )
    assert parse.nodes == (
        Node("number", "0.5", 0, 3, (Node("unit", "hour", 2, 3),)),
        Node("duration", None, 0, 3),
    )


def test_two_ways_to_the_same_tree_are_one_parse() -> None:
    assert len(grammar("(a {x} | a {x} | a [b] {x}) | a {x}").parse(["a"])) == 2
    assert len(grammar("(a | a b*) {x}").parse(["a"])) == 1


def test_same_language_same_fingerprint_other_language_another() -> None:
    assert grammar("a (b | c)").fingerprint == grammar("a {x} c | a [<VOID>] b").fingerprint
    assert grammar("a (b | c)").fingerprint != grammar("a [b | c]").fingerprint


def test_fingerprint_is_the_same_in_every_process() -> None:
    # Worked out once by another process; changes only with the automaton's own layout.
    assert grammar("a (b | c)+").fingerprint == FINGERPRINT


FINGERPRINT = "d6b4cfc5446319ca61b482a82415d1927d4fd6baaa1f6b95259c05948f7828b0"


def test_long_sentences() -> None:
    found = grammar("(a {x} | b)+")
    (parse,) = found.parse(["a", "b"] * 2000)
    assert len(parse.nodes) == 2000


def test_shipped_network_and_deterministic_view_agree_on_near_misses() -> None:
    found = load_grammar()
    random = Random(3)
    network = Ways(compile_network(found.rules))
    vocabulary = sorted(found.words)
    agreed = {True: 0, False: 0}
    for _ in range(1500):
        sentence = list(found.generate(random))
        place = random.randrange(len(sentence))
        change = random.choice(["keep", "replace", "near", "drop", "double"])
        if change == "replace":
            sentence[place] = random.choice(vocabulary)
        elif change == "near":
            state = found.walk(sentence[:place])
            assert state is not None
            sentence[place] = random.choice(sorted(found.arcs(state)))
        elif change == "drop":
            del sentence[place]
        elif change == "double":
            sentence.insert(place, sentence[place])
        state = found.walk(sentence)
        right = network.accepts(sentence)
        assert (state is not None and found.is_final(state)) is right
        assert bool(found.parse(sentence)) is right
        agreed[right] += 1
    assert min(agreed.values()) > 300  # both sides were really tried
