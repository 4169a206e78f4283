"""The words that are always listened for, whatever the job, as the shipped grammars have them."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

from companion.grammar.named import named_by_rule
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
    spoken: dict[str, list[str]] = {}
    for words, name in named_by_rule(grammar, rule).items():
        spoken.setdefault(name, []).append(words)
    return tuple(Term(name, tuple(ways)) for name, ways in spoken.items())
