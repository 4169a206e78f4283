"""Sentences that the grammar can take in two ways, found on the automaton itself.

The search is exact: it walks every pair of different tagged trees that agree in their words, as far
as such pairs lead to states, or to differences between the trees, not seen before. Two trees that
mean the same are no ambiguity.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Callable, Hashable, Iterator
from dataclasses import dataclass
from functools import cache

from companion.grammar.automaton import Close, Network, NetworkState, WordAutomaton, word_automaton
from companion.grammar.compiler import compile_network
from companion.grammar.linking import LinkedRules
from companion.grammar.parse_tree import Node, Parse
from companion.grammar.parsing import Parser

Meaning = Callable[[Parse], Hashable]
"""What a tree means; trees of equal meaning need not be told apart."""

_MOST_APART = 8
"""In so many marks two trees differ at most before further differences are no longer told apart: a
loop would add to them without end."""


@dataclass(frozen=True, slots=True)
class Ambiguity:
    """A sentence with two trees, the shortest of its kind."""

    one: Parse
    other: Parse

    @property
    def text(self) -> str:
        """The words of the sentence."""
        return " ".join(self.one.words)


def tags_and_words(parse: Parse) -> Hashable:
    """Return all that a tree can mean: its tags and, where words are the value, the words."""
    return tuple(
        (node.key, node.value or ("" if node.children else parse.text(node)))
        for node in parse.walk()
    )


def ambiguities(rules: LinkedRules, meaning: Meaning = tags_and_words) -> tuple[Ambiguity, ...]:
    """Find every kind of ambiguous sentence, each by a shortest example.

    Two examples are of one kind if their trees differ in the same tags.

    Args:
        rules: Of the grammar.
        meaning: What a tree means.
    """
    parser = Parser(rules)
    kinds: dict[Hashable, Ambiguity] = {}
    for words in _sentences_with_two_trees(word_automaton(_marks_as_words(compile_network(rules)))):
        parses = parser.parse(words)
        meant = [meaning(parse) for parse in parses]
        for number, one in enumerate(parses):
            for rival, other in enumerate(parses[:number]):
                if meant[number] != meant[rival]:
                    kinds.setdefault(_kind(one, other), Ambiguity(other, one))
    return tuple(kinds.values())


def describe(parse: Parse) -> str:
    """A tree in one line: ``intent=reading(measure=gap, number "thirty", unit=thou)``."""
    return ", ".join(_describe(parse, node) for node in parse.nodes)


def _describe(parse: Parse, node: Node) -> str:
    own = f'{node.key} "{parse.text(node)}"' if node.value is None else f"{node.key}={node.value}"
    inside = ", ".join(_describe(parse, child) for child in node.children)
    return f"{own}({inside})" if inside else own


def _kind(one: Parse, other: Parse) -> Hashable:
    own, others = (frozenset(f"{n.key}={n.value}" for n in each.walk()) for each in (one, other))
    return frozenset((own - others, others - own)) if own != others else own


def _marks_as_words(network: Network) -> Network:
    """The same network with each mark spelled out as a word in braces.

    Made deterministic, it has exactly one path for each tagged tree.
    """
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


@dataclass(frozen=True, slots=True)
class _Apart:
    """How two trees differ so far.

    Attributes:
        one: Tags that only the first has, with how often.
        other: Tags that only the second has.
        moved: Tags that both have, but around other words.
    """

    one: frozenset[tuple[str, int]] = frozenset()
    other: frozenset[tuple[str, int]] = frozenset()
    moved: frozenset[str] = frozenset()

    def turned(self) -> _Apart:
        """The same with the two trees in the other order."""
        return _Apart(self.other, self.one, self.moved)

    @property
    def full(self) -> bool:
        """Whether further differences are no longer told apart."""
        marks = sum(often for _, often in self.one | self.other)
        return marks + len(self.moved) > _MOST_APART


_AGREED = _Apart()


@cache
def _further(apart: _Apart, marks: tuple[str, ...], rival: tuple[str, ...]) -> _Apart:
    """How two trees differ once each has met some marks more."""
    if marks == rival or apart.full:
        return apart
    one, other = Counter(dict(apart.one)), Counter(dict(apart.other))
    own, others = Counter(marks) - Counter(rival), Counter(rival) - Counter(marks)
    moved = apart.moved | set(own & other) | set(others & one)
    if not own and not others:
        moved |= set(marks)
    left, right = one + own, other + others
    return _Apart(
        frozenset((left - right).items()), frozenset((right - left).items()), frozenset(moved)
    )


_Pair = tuple[int, int, _Apart]


def _sentences_with_two_trees(marked: WordAutomaton) -> Iterator[tuple[str, ...]]:
    """Yield, breadth first, one sentence for each pair of states in which two trees can end, and
    for each way in which they differ."""
    steps = [_steps(marked, state) for state in range(len(marked.arcs))]
    ends = [frozenset(_marks_to_end(marked, state)) for state in range(len(marked.arcs))]
    start: _Pair = (0, 0, _AGREED)
    seen = {start}
    waiting: deque[tuple[_Pair, tuple[str, ...]]] = deque([(start, ())])
    while waiting:
        (one, other, apart), words = waiting.popleft()
        parted = apart != _AGREED
        if (ends[one] and ends[other]) if parted else len(ends[one]) > 1:
            yield words
        for word, ways in steps[one].items():
            rivals = steps[other].get(word, ())
            for marks, target in ways:
                for rival_marks, rival in rivals:
                    pair = _pair(target, rival, apart, marks, rival_marks)
                    if pair not in seen:
                        seen.add(pair)
                        waiting.append((pair, (*words, word)))


def _pair(
    target: int, rival: int, apart: _Apart, marks: tuple[str, ...], rival_marks: tuple[str, ...]
) -> _Pair:
    further = apart if marks == rival_marks else _further(apart, marks, rival_marks)
    # Both must end in the same order each time, or every pair is walked twice.
    return (target, rival, further) if target <= rival else (rival, target, further.turned())


def _steps(marked: WordAutomaton, state: int) -> dict[str, list[tuple[tuple[str, ...], int]]]:
    """Words that may come next, each with the marks before it and the state after it."""
    found: dict[str, list[tuple[tuple[str, ...], int]]] = {}
    for marks, reached in _after_marks(marked, state):
        for word, target in marked.arcs[reached].items():
            if not _is_mark(word):
                found.setdefault(word, []).append((marks, target))
    return found


def _marks_to_end(marked: WordAutomaton, state: int) -> Iterator[tuple[str, ...]]:
    return (marks for marks, reached in _after_marks(marked, state) if reached in marked.finals)


def _after_marks(marked: WordAutomaton, state: int) -> Iterator[tuple[tuple[str, ...], int]]:
    yield (), state
    for word, target in marked.arcs[state].items():
        if _is_mark(word):
            for marks, reached in _after_marks(marked, target):
                yield (word, *marks), reached


def _is_mark(word: str) -> bool:
    return word[0] in "{}"
