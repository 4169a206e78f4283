"""Rules compiled to the network that parses them."""

from __future__ import annotations

from collections.abc import Iterable

from companion.files.limits import MOST_SPOKEN, MOST_STATES
from companion.grammar.automaton import (
    CLOSE,
    Mark,
    Network,
    NetworkState,
    Open,
    WordAutomaton,
)
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
from companion.grammar.spoken import SAYS_TOO_MUCH, SpokenStates


def compile_network(rules: LinkedRules) -> Network:
    """Compile everything that can be said from the top rule."""
    return _Compiler(rules).compile(rules.expansions[rules.top])


class _Compiler:
    """Builds a network from its end to its beginning: each expansion knows what follows it."""

    def __init__(self, rules: LinkedRules) -> None:
        self.traits = Traits(rules)
        self.spoken = SpokenStates(rules.expansions)
        self.states = [NetworkState()]
        self.built: dict[tuple[int, int], tuple[Expansion, int | None]] = {}
        self.minimal: dict[int, WordAutomaton] = {}

    def compile(self, expansion: Expansion) -> Network:
        final = 0
        return Network(self.states, self._build(expansion, final), final)

    def _new(self, state: NetworkState) -> int:
        if len(self.states) > MOST_STATES:
            raise GrammarTooLarge(SAYS_TOO_MUCH)
        self.states.append(state)
        return len(self.states) - 1

    def _silent(self, mark: Mark, target: int) -> int:
        return self._new(NetworkState(silent=[(mark, target)]))

    def _build(self, expansion: Expansion, then: int) -> int | None:
        """State from which ``expansion`` and then ``then`` follow; None if it cannot be said."""
        key = (id(expansion), then)
        if key not in self.built:
            # The expansion is kept beside the result: were it freed, another one could get its id.
            self.built[key] = expansion, self._build_anew(expansion, then)
        return self.built[key][1]

    def _build_anew(self, expansion: Expansion, then: int) -> int | None:
        if self.traits.refers_without_tags(expansion):
            return self._splice(expansion, then)
        match expansion:
            case Word(text):
                return self._new(NetworkState(words={text: then}))
            case Null():
                return then
            case Void():
                return None
            case Reference(name):
                return self._build(self.traits.expansions[name], then)
            case Sequence(items):
                following: int | None = then
                for item in reversed(items):
                    if following is None:
                        return None
                    following = self._build(item, following)
                return following
            case Alternatives(choices, _):
                return self._join(self._build(choice, then) for choice in choices)
            case Optional(item):
                return self._join((self._build(item, then), then))
            case Tagged(item, tags):
                inside = self._build(item, self._silent(CLOSE, then))
                return None if inside is None else self._silent(Open(tags), inside)
            case Repeat(item, at_least_once):
                loop = self._silent(None, then)
                # Said again means said with words: a silent round would make endless parses.
                again = self._build(self.traits.with_words(item), loop)
                if again is not None:
                    self.states[loop].silent.append((None, again))
                return self._build(item, loop) if at_least_once else loop

    def _join(self, entries: Iterable[int | None]) -> int | None:
        live = list(dict.fromkeys(entry for entry in entries if entry is not None))
        if len(live) < 2:
            return live[0] if live else None
        return self._new(NetworkState(silent=[(None, target) for target in live]))

    def _splice(self, expansion: Expansion, then: int) -> int | None:
        """Copy in the minimal automaton of an expansion without tags.

        Spoken numbers stand in dozens of places; their rules overlap, their automaton does not.
        """
        minimal = self.minimal.get(id(expansion))
        if minimal is None:
            minimal = self.minimal[id(expansion)] = self.spoken.automaton(expansion)
        if not minimal.arcs[0] and not minimal.finals:
            return None
        first = len(self.states)
        for number, arcs in enumerate(minimal.arcs):
            end: list[tuple[Mark, int]] = [(None, then)] if number in minimal.finals else []
            self._new(NetworkState({word: first + target for word, target in arcs.items()}, end))
        return first


class Traits:
    """Properties of an expansion that do not depend on what stands around it."""

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
            # that no other one can get its id.
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
