"""The words that are always listened for, whatever the job, as the shipped grammars have them."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

from companion.grammar.automaton import every_sentence
from companion.grammar.files import shipped_grammar
from companion.grammar.linking import link
from companion.grammar.parsing import Parser
from companion.grammar.spoken import spoken_automaton
from companion.grammar.vocabulary import Term
from companion.handbook.unit_table import MEASURE_DIMENSIONS, MeasureDimension


@cache
def common_measures() -> Mapping[str, MeasureDimension]:
    """Return the measures that are always listened for, each with what it measures."""
    return MappingProxyType(
        {
            term.name: kind
            for kind in MEASURE_DIMENSIONS
            for term in terms_of_rule("common", f"{kind}-measure")
        }
    )


def common_names(rule: str) -> frozenset[str]:
    """Return the names that are always listened for.

    Args:
        rule: Of the shipped ``common.gram``: ``part``, ``condition``, ``tag-name``.
    """
    return frozenset(term.name for term in terms_of_rule("common", rule))


@cache
def terms_of_rule(grammar: str, rule: str) -> tuple[Term, ...]:
    """Return what a rule of a shipped grammar names, with every way to say each.

    Args:
        grammar: Its name: ``common``.
        rule: Of that grammar; one that it does not have names nothing.
    """
    found = shipped_grammar(grammar)
    if rule not in found.rules:
        return ()
    linked = link(found, rule, shipped_grammar)
    parser = Parser(linked)
    spoken: dict[str, list[str]] = {}
    for words in every_sentence(spoken_automaton(linked)):
        node = parser.parse(words)[0].nodes[0]
        spoken.setdefault(node.value or " ".join(words), []).append(" ".join(words))
    return tuple(Term(name, tuple(ways)) for name, ways in spoken.items())
