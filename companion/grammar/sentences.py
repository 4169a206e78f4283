"""Random sentences, drawn from the rules as they are written."""

from __future__ import annotations

from random import Random

from companion.errors import CompanionError
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

CHANCE_OF_MORE = 0.5
"""How likely an optional expansion is said, and a repeated one said once more."""


class Sentences:
    """Draws sentences; every alternative that can be said at all can occur."""

    def __init__(self, rules: LinkedRules) -> None:
        self._expansions = rules.expansions
        self._top = rules.top
        self._sayable: dict[str, bool] = {}
        # Rules come after those that they refer to, so one pass resolves them all.
        for name, expansion in rules.expansions.items():
            self._sayable[name] = self._can_be_said(expansion)

    def draw(self, random: Random) -> tuple[str, ...]:
        """Draw one sentence, weighing alternatives as the rules do.

        Raises:
            CompanionError: If nothing can be said.
        """
        if not self._sayable[self._top]:
            raise CompanionError(
                f"Nothing can be said from the rule <{self._top}>; remove a <VOID> it depends on."
            )
        words: list[str] = []
        self._say(self._expansions[self._top], random, words)
        return tuple(words)

    def _say(self, expansion: Expansion, random: Random, words: list[str]) -> None:
        match expansion:
            case Word(text):
                words.append(text)
            case Reference(name):
                self._say(self._expansions[name], random, words)
            case Sequence(items):
                for item in items:
                    self._say(item, random, words)
            case Alternatives(choices, weights):
                likely = [
                    (choice, weight)
                    for choice, weight in zip(choices, weights, strict=True)
                    if self._can_be_said(choice)
                ]
                drawn = random.choices([c for c, _ in likely], [weight for _, weight in likely])
                self._say(drawn[0], random, words)
            case Optional(item):
                if self._can_be_said(item) and random.random() < CHANCE_OF_MORE:
                    self._say(item, random, words)
            case Repeat(item, at_least_once):
                if not self._can_be_said(item):
                    return
                if at_least_once:
                    self._say(item, random, words)
                while random.random() < CHANCE_OF_MORE:
                    self._say(item, random, words)
            case Tagged(item, _):
                self._say(item, random, words)
            case Null() | Void():
                pass

    def _can_be_said(self, expansion: Expansion) -> bool:
        match expansion:
            case Void():
                return False
            case Reference(name):
                return self._sayable[name]
            case Sequence(items):
                return all(map(self._can_be_said, items))
            case Alternatives(choices, _):
                return any(map(self._can_be_said, choices))
            case Tagged(item, _):
                return self._can_be_said(item)
            case Repeat(item, at_least_once):
                return not at_least_once or self._can_be_said(item)
            case Word() | Null() | Optional():
                return True
