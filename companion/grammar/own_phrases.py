"""Ways of a person's own to say a phrase of the grammar: "fed her" for "added".

Linked rules are given one more alternative wherever that phrase stands, with the same tags; so what
is recorded and read back is what the phrase of the grammar means.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from companion.grammar.jsgf import (
    Alternatives,
    Expansion,
    Sequence,
    Tagged,
    Word,
)
from companion.grammar.linking import LinkedRules, rebuilt
from companion.grammar.phrases import Words, choices_of, is_call, opening, sayings

NEVER_KEYS = frozenset(
    {
        "number", "count", "spelled", "unit", "bare", "duration", "cylinder", "pitch", "call-sign",
        "size-inch", "size-metric", "poles", "nominal", "cylinders", "every", "tag", "level",
        "reason", "to",
    }
)  # fmt: skip
"""Tags of what is always called in the words of the grammar: numbers, units, the names of "do not
start" tags, levels, why a step is skipped."""

NEVER_CALLS = frozenset(
    {
        "tag.hang", "tag.clear", "start.check", "engine.running", "engine.stopped", "affirm",
        "negative", "acknowledge", "correction", "disregard", "step.done", "step.skip", "level",
        "note", "complaint", "serial",
    }
)  # fmt: skip
"""Calls that hang or clear a tag, ask for the start, tell of the engine, answer, correct, finish a
step of the card or prove a level, and those that are followed by free speech or letters."""


@dataclass(frozen=True, slots=True)
class Way:
    """A way of one's own.

    Attributes:
        own: What is said: lower-case words with single spaces.
        plain: The phrase of the grammar that it stands for.
    """

    own: str
    plain: str

    @property
    def own_words(self) -> Words:
        """What is said, a string a word."""
        return tuple(self.own.split())

    @property
    def plain_words(self) -> Words:
        """What it stands for, a string a word."""
        return tuple(self.plain.split())


def is_never(tags: Iterable[str]) -> bool:
    """Whether a phrase with these tags is always called in the words of the grammar."""
    parts = [tag.partition("=") for tag in tags]
    return any(
        key in NEVER_KEYS or (key == "intent" and value in NEVER_CALLS) for key, _, value in parts
    )


def with_own_phrases(rules: LinkedRules, ways: Iterable[Way]) -> LinkedRules:
    """Give each phrase the ways that stand for it.

    Args:
        rules: Of the grammar as it ships, or with the words of a job.
        ways: Those whose phrase the grammar does not have change nothing.
    """
    own: dict[Words, list[Words]] = {}
    for way in ways:
        own.setdefault(way.plain_words, []).append(way.own_words)
    if not own:
        return rules
    adding = _Adding(rules.expansions, own)
    return LinkedRules(
        rules.top, {name: adding.to(expansion) for name, expansion in rules.expansions.items()}
    )


class _Adding:
    """Adds alternatives to expansions; those that nothing is added to stay the same objects."""

    def __init__(
        self, expansions: Mapping[str, Expansion], own: Mapping[Words, list[Words]]
    ) -> None:
        self.expansions = expansions
        self.own = own

    def to(self, expansion: Expansion) -> Expansion:
        if isinstance(expansion, Tagged):
            return Tagged(self._to_tagged(expansion.item, expansion.tags), expansion.tags)
        return rebuilt(expansion, self.to)

    def _to_tagged(self, item: Expansion, tags: tuple[str, ...]) -> Expansion:
        said = sayings(item, self.expansions)
        if is_never(tags):
            return item if said is not None else self.to(item)
        if said is not None:
            return self._or(item, said)
        if not is_call(tags):
            return self.to(item)
        choices = tuple(map(self._to_call, choices_of(item)))
        if isinstance(item, Alternatives):
            return Alternatives(choices, item.weights)
        return choices[0]

    def _to_call(self, choice: Expansion) -> Expansion:
        length, said = opening(choice, self.expansions)
        if not length or not isinstance(choice, Sequence):
            return self.to(choice)
        opened = self._or(Sequence(choice.items[:length]), said)
        return Sequence((opened, *map(self.to, choice.items[length:])))

    def _or(self, item: Expansion, said: tuple[Words, ...]) -> Expansion:
        """The expansion, or what a person says for one of its ways."""
        added = [words for plain in said for words in self.own.get(plain, ())]
        if not added:
            return item
        others = (Sequence(tuple(map(Word, words))) for words in dict.fromkeys(added))
        choices = (item, *others)
        return Alternatives(choices, (1.0,) * len(choices))
