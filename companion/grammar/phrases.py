"""The phrases of a grammar that stand for one thing: "added", "no oil", "spark plug", "gas".

They are its tagged expansions that hold nothing but words; and of a call with something to fill in
("follow up <part>"), the words that it opens with.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import product

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
    children,
)
from companion.grammar.linking import LinkedRules

Words = tuple[str, ...]

MOST_SAYINGS = 64
"""An expansion that can be said in more ways than this is a number or a whole family of calls, not
a phrase."""


@dataclass(frozen=True, slots=True)
class TaggedPhrase:
    """One tagged expansion that holds nothing but words.

    Attributes:
        tags: As they stand behind it: ``measure=gap``, ``number``.
        sayings: Every way to say it, as they are written.
        opening: Whether these are only the words that a call opens with.
    """

    tags: tuple[str, ...]
    sayings: tuple[Words, ...]
    opening: bool = False


def tagged_phrases(rules: LinkedRules) -> tuple[TaggedPhrase, ...]:
    """Every phrase of the rules, in their order."""
    return tuple(
        phrase
        for expansion in rules.expansions.values()
        for phrase in _phrases(expansion, rules.expansions)
    )


def sayings(expansion: Expansion, expansions: Mapping[str, Expansion]) -> tuple[Words, ...] | None:
    """Every way to say an expansion that holds nothing but words.

    Args:
        expansion: Of linked rules.
        expansions: The rules that it may refer to.

    Returns:
        The sentences as they are written, the first one first; None where there are tags in it, a
        repetition, or more ways than ``MOST_SAYINGS``.
    """
    found: list[Words] = []
    match expansion:
        case Word(text):
            return ((text,),)
        case Null():
            return ((),)
        case Void():
            return ()
        case Reference(name):
            return sayings(expansions[name], expansions)
        case Tagged() | Repeat():
            return None
        case Optional(item):
            inside = sayings(item, expansions)
            return None if inside is None else ((), *inside)
        case Alternatives(choices, _):
            for choice in choices:
                inside = sayings(choice, expansions)
                if inside is None:
                    return None
                found += inside
        case Sequence(items):
            parts = []
            count = 1
            for item in items:
                inside = sayings(item, expansions)
                if inside is None:
                    return None
                count *= len(inside)
                if count > MOST_SAYINGS:
                    return None
                parts.append(inside)
            found = [tuple(word for part in way for word in part) for way in product(*parts)]
    return tuple(dict.fromkeys(found)) if len(found) <= MOST_SAYINGS else None


def opening(item: Expansion, expansions: Mapping[str, Expansion]) -> tuple[int, tuple[Words, ...]]:
    """How many expansions of a sequence at its beginning hold nothing but words, and how these can
    be said; 0 where none does, or the item is no sequence."""
    if not isinstance(item, Sequence):
        return 0, ()
    length = 0
    for inside in item.items:
        if not sayings(inside, expansions):
            break
        length += 1
    said = sayings(Sequence(item.items[:length]), expansions) if length else ()
    return (length, said) if said else (0, ())


def choices_of(item: Expansion) -> tuple[Expansion, ...]:
    """The expansions of which one is said."""
    return item.choices if isinstance(item, Alternatives) else (item,)


def holds(words: Words, inside: Words) -> bool:
    """Whether words hold others as one unbroken stretch."""
    ends = range(len(inside), len(words) + 1)
    return bool(inside) and any(words[end - len(inside) : end] == inside for end in ends)


def is_call(tags: tuple[str, ...]) -> bool:
    """Whether these tags name a kind of call."""
    return any(tag.startswith("intent=") for tag in tags)


def _phrases(expansion: Expansion, expansions: Mapping[str, Expansion]) -> Iterator[TaggedPhrase]:
    if isinstance(expansion, Tagged):
        said = sayings(expansion.item, expansions)
        if said is not None:
            yield TaggedPhrase(expansion.tags, tuple(words for words in said if words))
            return
        if is_call(expansion.tags):
            for choice in choices_of(expansion.item):
                _, opened = opening(choice, expansions)
                if opened:
                    yield TaggedPhrase(expansion.tags, opened, opening=True)
    for inside in children(expansion):
        yield from _phrases(inside, expansions)
