"""The quick ways to load and to parse, against the plain ones: following a network whose every
state is written out."""

from __future__ import annotations

import subprocess
import sys
from itertools import accumulate, product
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.grammar.automaton import Open
from companion.grammar.compiled import load_grammar
from companion.grammar.jsgf import (
    Alternatives,
    Expansion,
    Null,
    Optional,
    Reference,
    Repeat,
    Sequence,
    Tagged,
    Void,
    Word,
)
from companion.grammar.linking import LinkedRules
from companion.grammar.marked import marked_automaton
from companion.grammar.parse_tree import Node
from companion.grammar.parsing import Parser
from companion.grammar.spoken import spoken_automaton
from tests.networks import Network, Way, Ways, compile_network, with_marks, word_automaton

SHORT = [words for length in range(4) for words in product("abc", repeat=length)]
MOST_SECONDS = 1.2
"""Of processor time: every command waits for it."""


def expansions(names: tuple[str, ...]) -> st.SearchStrategy[Expansion]:
    """Expansions that may refer to these rules."""
    leaves: st.SearchStrategy[Expansion] = st.one_of(
        st.sampled_from("abc").map(Word),
        st.sampled_from("abc").map(Word),
        st.just(Null()),
        st.just(Void()),
        *((st.sampled_from(names).map(lambda name: Reference(name, 1)),) * 2 if names else ()),
    )
    return st.recursive(
        leaves,
        lambda inner: st.one_of(
            st.lists(inner, min_size=2, max_size=3).map(lambda items: Sequence(tuple(items))),
            st.lists(inner, min_size=2, max_size=3).map(
                lambda items: Alternatives(tuple(items), (1.0,) * len(items))
            ),
            inner.map(Optional),
            st.builds(Repeat, inner, st.booleans()),
            st.builds(lambda item, tag: Tagged(item, (tag,)), inner, st.sampled_from("xyz")),
        ),
        max_leaves=5,
    )


@st.composite
def grammars(draw: st.DrawFn) -> LinkedRules:
    """Three rules, each of which may refer to those before it."""
    rules: dict[str, Expansion] = {}
    for name in ("first", "second", "third"):
        rules[name] = draw(expansions(tuple(rules)))
    return LinkedRules("third", rules)


def tree(way: Way) -> tuple[Node, ...]:
    """The nodes that marks stand for: those of one expansion side by side, the first with what is
    inside."""
    if not way:
        return ()
    start, opened = way[0]
    assert isinstance(opened, Open)
    depths = accumulate(1 if isinstance(mark, Open) else -1 for _, mark in way)
    number = list(depths).index(0)
    end, _ = way[number]
    inside = [tree(way[1:number]), *[()] * len(opened.tags)]
    nodes = []
    for tag, children in zip(opened.tags, inside, strict=False):
        key, equals, value = tag.partition("=")
        nodes.append(Node(key, value if equals else None, start, end, children))
    return (*nodes, *tree(way[number + 1 :]))


@given(grammars())
@settings(deadline=None)
def test_rule_by_rule_gives_the_automaton_of_the_network(rules: LinkedRules) -> None:
    network = compile_network(rules)
    assert spoken_automaton(rules) == word_automaton(network)
    assert marked_automaton(rules) == word_automaton(with_marks(network))


@given(grammars())
@settings(deadline=None)
def test_parses_come_in_the_order_of_the_rules(rules: LinkedRules) -> None:
    parser, plain = Parser(rules), Ways(compile_network(rules))
    for words in SHORT:
        assert [parse.nodes for parse in parser.parse(words)] == [
            tree(way) for way in plain.of(words)
        ]


@pytest.fixture(scope="module")
def shipped_network() -> Network:
    return compile_network(load_grammar().rules)


def test_shipped_grammar_is_the_automaton_of_its_network(shipped_network: Network) -> None:
    found = load_grammar()
    plain = word_automaton(shipped_network)
    assert found.automaton == plain
    assert found.fingerprint == plain.fingerprint()


def test_shipped_trees_are_the_automaton_of_the_network_with_its_marks(
    shipped_network: Network,
) -> None:
    plain = word_automaton(with_marks(shipped_network))
    assert marked_automaton(load_grammar().rules) == plain


def test_shipped_sentences_have_the_parses_of_the_network(shipped_network: Network) -> None:
    found = load_grammar()
    plain = Ways(shipped_network)
    random = Random(11)
    for _ in range(2000):
        words = found.generate(random)
        parses = found.parse(words)
        assert parses
        assert [parse.nodes for parse in parses] == [tree(way) for way in plain.of(words)]


def test_loading_is_quick() -> None:
    took = subprocess.run(
        [
            sys.executable,
            "-c",
            "from companion.grammar.compiled import load_grammar; load_grammar();"
            " import time; print(time.process_time())",
        ],
        check=True,
        capture_output=True,
        text=True,
    )
    assert float(took.stdout) < MOST_SECONDS
