"""What holds of an expansion wherever it stands: whether it has tags, whether it may be silent."""

from __future__ import annotations

from companion.files.limits import MOST_SPOKEN
from companion.grammar.jsgf import (
    Alternatives,
    Expansion,
    GrammarTooLarge,
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
from companion.grammar.spoken import SAYS_TOO_MUCH


class Traits:
    """What holds of an expansion whatever stands around it."""

    def __init__(self, rules: LinkedRules) -> None:
        self.expansions = rules.expansions
        self._tagged: dict[str, bool] = {}
        self._silent: dict[str, bool] = {}
        self._spliced: dict[int, tuple[Expansion, bool]] = {}
        self._looked_at = 0
        # Rules come after those that they refer to, so one pass resolves them all.
        for name, expansion in rules.expansions.items():
            self._tagged[name] = self._has_tags(expansion)
            self._silent[name] = self.may_be_silent(expansion)

    def refers_without_tags(self, expansion: Expansion) -> bool:
        """Whether rules stand in the expansion, but no tags, in them neither."""
        known = self._spliced.get(id(expansion))
        if known is None:
            # The same expansion stands before hundreds of others. It is kept beside the answer, so
            # that its id cannot come again.
            answer = self._refers(expansion) and not self._has_tags(expansion)
            known = self._spliced[id(expansion)] = expansion, answer
        return known[1]

    def with_words(self, expansion: Expansion) -> Expansion:
        """The same expansion, less its ways of being matched without a word."""
        self._looked_at += 1 + len(children(expansion))
        if self._looked_at > MOST_SPOKEN:
            raise GrammarTooLarge(SAYS_TOO_MUCH)
        if not self.may_be_silent(expansion):
            return expansion
        match expansion:
            case Reference(name):
                return self.with_words(self.expansions[name])
            case Sequence(items):
                first, rest = items[0], items[1:]
                if not rest:
                    return self.with_words(first)
                head: Expansion = Sequence((self.with_words(first), *rest))
                return Alternatives((head, self.with_words(Sequence(rest))), (1.0, 1.0))
            case Alternatives(choices, weights):
                return Alternatives(tuple(self.with_words(choice) for choice in choices), weights)
            case Optional(item):
                return self.with_words(item)
            case Repeat(item, _):
                return Sequence((self.with_words(item), Repeat(item, at_least_once=False)))
            case Tagged(item, tags):
                return Tagged(self.with_words(item), tags)
            case Null() | Void() | Word():
                return Void()

    def _refers(self, expansion: Expansion) -> bool:
        return isinstance(expansion, Reference) or any(map(self._refers, children(expansion)))

    def _has_tags(self, expansion: Expansion) -> bool:
        if isinstance(expansion, Reference):
            return self._tagged[expansion.name]
        return isinstance(expansion, Tagged) or any(map(self._has_tags, children(expansion)))

    def may_be_silent(self, expansion: Expansion) -> bool:
        """Whether the expansion can be matched without a word."""
        match expansion:
            case Word() | Void():
                return False
            case Null() | Optional():
                return True
            case Reference(name):
                return self._silent[name]
            case Sequence(items):
                return all(map(self.may_be_silent, items))
            case Alternatives(choices, _):
                return any(map(self.may_be_silent, choices))
            case Repeat(item, at_least_once):
                return not at_least_once or self.may_be_silent(item)
            case Tagged(item, _):
                return self.may_be_silent(item)
