"""What a tagged tree means, so that trees of the same meaning can be recognized."""

from __future__ import annotations

from collections.abc import Hashable

from pydantic import ValidationError

from companion.grammar.ambiguity import tags_and_words
from companion.grammar.parse_tree import Parse
from companion.intent.meaning import interpret


def meaning_of(parse: Parse) -> Hashable:
    """Return what a tree means: its intents; its tags, where no intent is known by its name.

    Args:
        parse: A tree of the shipped grammars, or of one of one's own.
    """
    try:
        intents = frozenset(interpret(parse))
    except (ValidationError, ValueError, AssertionError):
        intents = frozenset()
    return intents or tags_and_words(parse)
