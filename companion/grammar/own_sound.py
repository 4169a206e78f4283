"""What a way of one's own could be taken for, once it is in the grammar."""

from __future__ import annotations

from companion.grammar.check import why_accepted
from companion.grammar.compiled import CallGrammar
from companion.grammar.own_phrases import Way
from companion.grammar.phrases import Words
from companion.grammar.sound_alike import (
    Alike,
    Endings,
    near_to,
    shortest_ways,
    swapped_words,
)

Meanings = frozenset[tuple[tuple[str, str], ...]]


def meant_twice(grammar: CallGrammar, way: Way) -> str | None:
    """Return a sentence in which a way means something else as well; None if there is none.

    Args:
        grammar: With the way in it.
        way: One of its own ways.
    """
    automaton = grammar.automaton
    endings = Endings(automaton)
    for state, before in shortest_ways(automaton).items():
        plain = grammar.walk(way.plain_words, state)
        own = grammar.walk(way.own_words, state)
        if own is None or plain is None:
            continue
        after = endings.common(plain, own)
        if after is None:
            return " ".join((*before, way.own))
        said = (*before, *way.own_words, *after)
        if not _meanings(grammar, said) <= _meanings(grammar, (*before, *way.plain_words, *after)):
            return " ".join(said)
    return None


def sounds_like(grammar: CallGrammar, way: Way, before: CallGrammar) -> str | None:
    """Return another phrase or word of the grammar that a way could be taken for, or None.

    Args:
        grammar: With the way in it.
        way: One of its own ways.
        before: The grammar without it.
    """
    keys = {
        tag.partition("=")[0]
        for phrase in grammar.phrases
        if way.plain_words in phrase.sayings
        for tag in phrase.tags
    }
    for _, other in near_to(grammar.rules, way.own_words, keys):
        if why_accepted(Alike(way.own, " ".join(other), 1.0, "")) is None:
            return " ".join(other)
    words = frozenset(way.own_words)
    old = words & before.words
    near = swapped_words(before, among=old) if old else ()
    known = {frozenset((pair.one, pair.other)) for pair in near}
    for pair in swapped_words(grammar, among=words):
        if frozenset((pair.one, pair.other)) not in known and why_accepted(pair) is None:
            return pair.other if pair.one in words else pair.one
    return None


def _meanings(grammar: CallGrammar, words: Words) -> Meanings:
    """The tags of every tree, each with its value, or its words where these are the value."""
    return frozenset(
        tuple(
            (node.key, node.value or ("" if node.children else parse.text(node)))
            for node in parse.walk()
        )
        for parse in grammar.parse(words)
    )
