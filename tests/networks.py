"""The plain way to compile a grammar, which the quick ones are held against: a network whose every
state is written out, with a mark where a tagged expansion opens and closes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from companion.grammar.automaton import CLOSE, Close, Open, WordAutomaton, canonical, minimal
from companion.grammar.jsgf import (
    Alternatives,
    Expansion,
    Null,
    Optional,
    Reference,
    Repeat,
    Tagged,
    Void,
    Word,
)
from companion.grammar.jsgf import Sequence as InSequence
from companion.grammar.linking import LinkedRules
from companion.grammar.spoken import SpokenStates
from companion.grammar.traits import Traits

Mark = Open | Close | None
"""What is met on an arc without a word; None where nothing is marked."""


@dataclass(slots=True)
class NetworkState:
    """Arcs that take a word, by word, and arcs that take none."""

    words: dict[str, int] = field(default_factory=dict)
    silent: list[tuple[Mark, int]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Network:
    """A word automaton with marks.

    No state is reached from itself without a word, so every sentence has finitely many parses.

    Attributes:
        states: By number; from every one that can be reached, ``final`` can be reached too.
        start: Number of the state before the first word, or None if nothing can be said.
        final: Number of the one state where a sentence ends.
    """

    states: Sequence[NetworkState]
    start: int | None
    final: int


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
        self.states.append(state)
        return len(self.states) - 1

    def _silent(self, mark: Mark, target: int) -> int:
        return self._new(NetworkState(silent=[(mark, target)]))

    def _build(self, expansion: Expansion, then: int) -> int | None:
        """State from which ``expansion`` and then ``then`` follow; None if it cannot be said."""
        key = (id(expansion), then)
        if key not in self.built:
            # The expansion is kept beside the result: were it freed, its id could come again.
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
            case InSequence(items):
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


def word_automaton(network: Network) -> WordAutomaton:
    """Forget the marks of a network, then make it deterministic and minimal."""
    if network.start is None:
        return WordAutomaton(({},), frozenset())
    return canonical(*minimal(*_deterministic(network, network.start)))


def _deterministic(network: Network, start: int) -> tuple[list[dict[str, int]], set[int]]:
    """Subset construction; state 0 of the result is the start."""
    speaking = _speaking_states(network)
    first = speaking(start)
    numbers = {first: 0}
    subsets = [first]
    arcs: list[dict[str, int]] = []
    for subset in subsets:  # grows while it is walked
        targets: dict[str, frozenset[int]] = {}
        for state in subset:
            for word, target in network.states[state].words.items():
                reached = speaking(target)
                known = targets.get(word)
                targets[word] = reached if known is None else known | reached
        row: dict[str, int] = {}
        for word, reached in targets.items():
            number = numbers.get(reached)
            if number is None:
                number = numbers[reached] = len(subsets)
                subsets.append(reached)
            row[word] = number
        arcs.append(row)
    return arcs, {number for subset, number in numbers.items() if network.final in subset}


def _speaking_states(network: Network) -> Callable[[int], frozenset[int]]:
    """States reached without a word that have words to offer, or are the end."""
    known: dict[int, frozenset[int]] = {}

    def speaking(state: int) -> frozenset[int]:
        found = known.get(state)
        if found is None:
            here = network.states[state]
            own = frozenset((state,)) if here.words or state == network.final else frozenset[int]()
            found = known[state] = own.union(*(speaking(target) for _, target in here.silent))
        return found

    return speaking


def with_marks(network: Network) -> Network:
    """The same network with each mark as a word in braces."""
    states = [NetworkState(dict(state.words)) for state in network.states]
    for number, state in enumerate(network.states):
        for mark, target in state.silent:
            if mark is None:
                states[number].silent.append((None, target))
                continue
            spelled = "}" if isinstance(mark, Close) else "{" + "}{".join(mark.tags)
            states.append(NetworkState({spelled: target}))
            states[number].silent.append((None, len(states) - 1))
    return Network(states, network.start, network.final)


Way = tuple[tuple[int, Open | Close], ...]


class Ways:
    """Follows a network, state by state, wherever it may lead to the end."""

    def __init__(self, network: Network) -> None:
        self._network = network
        self._begins: dict[int, frozenset[str | None]] = {}

    def of(self, words: tuple[str, ...]) -> list[Way]:
        """The marks of every way, in the order in which the network's arcs stand."""
        start = self._network.start
        return [] if start is None else list(dict.fromkeys(self._follow(start, words, 0, ())))

    def accepts(self, words: Sequence[str]) -> bool:
        """Whether this is a whole sentence."""
        sentence = tuple(words)
        return bool(self.of(sentence))

    def _follow(self, state: int, words: tuple[str, ...], at: int, met: Way) -> Iterator[Way]:
        word = words[at] if at < len(words) else None
        if word not in self._words_at(state):
            return
        here = self._network.states[state]
        if word is None and state == self._network.final:
            yield met
        if word in here.words:
            yield from self._follow(here.words[word], words, at + 1, met)
        for mark, target in here.silent:
            yield from self._follow(target, words, at, met if mark is None else (*met, (at, mark)))

    def _words_at(self, state: int) -> frozenset[str | None]:
        """What may be said next from a state, and None where the end is reached silently."""
        known = self._begins.get(state)
        if known is None:
            here = self._network.states[state]
            own: frozenset[str | None] = frozenset(here.words)
            if state == self._network.final:
                own |= {None}
            known = own.union(*(self._words_at(target) for _, target in here.silent))
            self._begins[state] = known
        return known
