"""What the rules of the shipped grammars name: all that can be said, each with what it means."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

from companion.grammar.automaton import every_sentence
from companion.grammar.files import shipped_grammar
from companion.grammar.linking import LinkedRules, from_rule, link
from companion.grammar.parsing import Parser
from companion.grammar.spoken import spoken_automaton


@cache
def named_by_rule(grammar: str, rule: str) -> Mapping[str, str]:
    """Return what can be said by a rule, and the name that it means.

    Args:
        grammar: Of the shipped ones: ``common``, ``bench``.
        rule: A public one of it; one that it does not have names nothing.

    Returns:
        By what is said, words in order of the alphabet; the name is the value of its tag, or what
        is said where it has none.
    """
    if rule not in shipped_grammar(grammar).rules:
        return MappingProxyType({})
    linked = from_rule(_linked(grammar), f"{grammar}.{rule}")
    parser = Parser(linked)
    named: dict[str, str] = {}
    for words in every_sentence(spoken_automaton(linked)):
        node = parser.parse(words)[0].nodes[0]
        named[" ".join(words)] = node.value or " ".join(words)
    return MappingProxyType(named)


@cache
def _linked(grammar: str) -> LinkedRules:
    # Every rule is settled whatever the top is; dozens are asked for.
    found = shipped_grammar(grammar)
    public = next(name for name, rule in found.rules.items() if rule.public)
    return link(found, public, shipped_grammar)
