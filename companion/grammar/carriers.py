"""The phrases that carry a slot, spelled out: their words, with a hole for each slot that is still
open."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterator, Mapping

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
from companion.grammar.nearness import HOLE, Words

CARRYING = frozenset(["action", "level", "reason", "subject"])
"""Tags whose words belong to the carrier of a call and fill no open slot of it: "took … off"."""

ASKED = "asked"
"""The tag of what is never acted on without a question."""

BESIDE = frozenset(["side", "count"])
"""Slots that stand beside a part wherever one is called, so that it is enough to compare without
them."""

Phrases = Mapping[Words, frozenset[str]]
"""Phrases that can be said, each with everything that it may mean."""


def slots(rules: LinkedRules, among: Collection[str] | None = None) -> Mapping[str, Phrases]:
    """For each tag key, the phrases that carry it.

    Args:
        rules: Of the grammar.
        among: Only these keys; None for all.
    """
    slots: dict[str, dict[Words, frozenset[str]]] = {}
    carriers = _Carriers(rules)
    for tagged in tagged_in(rules):
        keys = {key for key, equals, _ in (tag.partition("=") for tag in tagged.tags) if equals}
        for key in keys - CARRYING if among is None else keys & set(among):
            phrases = slots.setdefault(key, {})
            for words, meant in carriers.phrases(tagged):
                if words:
                    phrases[words] = phrases.get(words, frozenset()) | {meant}
    return slots


def synonyms_in(rules: LinkedRules) -> Mapping[str, Hashable]:
    """Find words that are said only where other words for the same value may be said too.

    Returns:
        For each, all the places where it stands: two words with the same places ("quart" and
        "quarts") mean the same in every sentence.
    """
    places: dict[str, set[int | None]] = {}
    waiting: list[tuple[Expansion, bool]] = [(each, False) for each in rules.expansions.values()]
    while waiting:
        expansion, valued = waiting.pop()
        if isinstance(expansion, Word):
            places.setdefault(expansion.text, set()).add(None)
        elif isinstance(expansion, Alternatives) and valued:
            for choice in expansion.choices:
                if isinstance(choice, Word):
                    places.setdefault(choice.text, set()).add(id(expansion))
                else:
                    waiting.append((choice, valued))
        else:
            if isinstance(expansion, Tagged):
                valued = any("=" in tag for tag in expansion.tags)
            waiting += [(each, valued) for each in children(expansion)]
    return {word: frozenset(found) for word, found in places.items() if None not in found}


def tagged_in(rules: LinkedRules) -> Iterator[Tagged]:
    """Every tagged expansion of the rules."""
    waiting = list(rules.expansions.values())
    while waiting:
        expansion = waiting.pop()
        if isinstance(expansion, Tagged):
            yield expansion
        waiting += children(expansion)


class _Carriers:
    """Spells out what carries a slot: its words, with a hole for each slot in it, and its tags."""

    def __init__(self, rules: LinkedRules) -> None:
        self.rules = rules
        self.known: dict[str, frozenset[tuple[Words, str]]] = {}

    def phrases(self, tagged: Tagged) -> frozenset[tuple[Words, str]]:
        """Every phrase of a tagged expansion, with its tags."""
        own = " ".join(tagged.tags)
        return frozenset(
            (words, f"{own} {inside}".strip()) for words, inside in self._spelled(tagged.item)
        )

    def _spelled(self, expansion: Expansion) -> frozenset[tuple[Words, str]]:
        match expansion:
            case Word(text):
                return frozenset([((text,), "")])
            case Null():
                return frozenset([((), "")])
            case Void():
                return frozenset()
            case Reference(name):
                if name not in self.known:
                    self.known[name] = self._spelled(self.rules.expansions[name])
                return self.known[name]
            case Alternatives(choices, _):
                return frozenset[tuple[Words, str]]().union(*map(self._spelled, choices))
            case Optional(item) | Repeat(item, _):
                # One round of a repetition is enough: a second one sounds the same.
                return self._spelled(item) | {((), "")}
            case Sequence(items):
                said: frozenset[tuple[Words, str]] = frozenset([((), "")])
                for item in items:
                    then = self._spelled(item)
                    said = frozenset(
                        ((*words, *more), f"{meant} {meant_more}".strip())
                        for words, meant in said
                        for more, meant_more in then
                    )
                return said
            case Tagged(item, tags):
                key, equals, _ = tags[0].partition("=")
                if key in CARRYING or sum("=" in tag for tag in tags) > 1:
                    return self.phrases(expansion)
                if key == ASKED:
                    return self.phrases(expansion)
                if not equals and self._has_tags(item):
                    # It says how something was put, and fills no slot itself.
                    return self._spelled(item)
                return frozenset([(() if key in BESIDE else (f"{HOLE}{key}>",), "")])

    def _has_tags(self, expansion: Expansion) -> bool:
        if isinstance(expansion, Reference):
            return self._has_tags(self.rules.expansions[expansion.name])
        return isinstance(expansion, Tagged) or any(map(self._has_tags, children(expansion)))
