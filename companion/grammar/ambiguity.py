"""Sentences that the grammar can take in two ways, found on the automaton itself.

The search is exact: it walks every pair of different tagged trees that agree in their words, as far
as such pairs lead to states, or to differences between the trees, not seen before. Two trees that
mean the same are no ambiguity.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Callable, Hashable, Iterator
from dataclasses import dataclass

from companion.grammar.automaton import WordAutomaton
from companion.grammar.linking import LinkedRules
from companion.grammar.marked import is_mark, marked_automaton
from companion.grammar.parse_tree import Node, Parse
from companion.grammar.parsing import Parser

Meaning = Callable[[Parse], Hashable]
"""What a tree means; trees of equal meaning need not be told apart."""

_MOST_APART = 8
"""How many marks two trees may differ in before further differences are no longer told apart: a
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
    for words in _sentences_with_two_trees(marked_automaton(rules)):
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


_NO_DIFFERENCE = _Apart()
_AGREED = 0
"""Its number."""
_Marks = tuple[str, ...]


class _Differences:
    """Numbers the ways in which two trees differ: numbers are compared far more quickly."""

    def __init__(self) -> None:
        self._numbers = {_NO_DIFFERENCE: _AGREED}
        self._known = [_NO_DIFFERENCE]
        self._further: dict[tuple[int, _Marks, _Marks], int] = {}
        self.turned = [_AGREED]
        """For each difference, the number of the same one with the two trees swapped."""

    def further(self, apart: int, marks: _Marks, rival: _Marks) -> int:
        """How two trees differ once each has met some marks more, which are not the same."""
        key = apart, marks, rival
        number = self._further.get(key)
        if number is None:
            number = self._further[key] = self._number(_further(self._known[apart], marks, rival))
        return number

    def _number(self, apart: _Apart) -> int:
        number = self._numbers.get(apart)
        if number is None:
            number = self._add(apart)
            turned = apart.turned()
            if turned != apart:
                self.turned[number] = self._add(turned)
                self.turned[self.turned[number]] = number
        return number

    def _add(self, apart: _Apart) -> int:
        number = self._numbers[apart] = len(self._known)
        self._known.append(apart)
        self.turned.append(number)
        return number


def _further(apart: _Apart, marks: _Marks, rival: _Marks) -> _Apart:
    """How two trees differ once each has met some marks more."""
    if apart.full:
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


def _sentences_with_two_trees(marked: WordAutomaton) -> Iterator[tuple[str, ...]]:
    """Yield, breadth first, one sentence for each pair of states in which two trees can end, and
    for each way in which they differ."""
    states = len(marked.arcs)
    steps = [_steps(marked, state) for state in range(states)]
    ends = [frozenset(_marks_to_end(marked, state)) for state in range(states)]
    differences = _Differences()
    further, turned = differences.further, differences.turned
    # Pairs of states and how they differ, each as one number.
    seen = {0}
    waiting: deque[tuple[int, int, int, tuple[str, ...]]] = deque([(0, 0, _AGREED, ())])
    while waiting:
        one, other, apart, words = waiting.popleft()
        if (ends[one] and ends[other]) if apart != _AGREED else len(ends[one]) > 1:
            yield words
        after = steps[other]
        for word, ways in steps[one].items():
            rivals = after.get(word)
            if rivals is None:
                continue
            for marks, target in ways:
                for rival_marks, rival in rivals:
                    now = apart if marks == rival_marks else further(apart, marks, rival_marks)
                    left, right = target, rival
                    if left > right:
                        # Kept in one fixed order, or every pair would be walked twice.
                        left, right, now = right, left, turned[now]
                    pair = (now * states + left) * states + right
                    if pair not in seen:
                        seen.add(pair)
                        waiting.append((left, right, now, (*words, word)))


def _steps(marked: WordAutomaton, state: int) -> dict[str, list[tuple[_Marks, int]]]:
    """Words that may come next, each with the marks before it and the state after it."""
    found: dict[str, list[tuple[_Marks, int]]] = {}
    for marks, reached in _after_marks(marked, state):
        for word, target in marked.arcs[reached].items():
            if not is_mark(word):
                found.setdefault(word, []).append((marks, target))
    return found


def _marks_to_end(marked: WordAutomaton, state: int) -> Iterator[_Marks]:
    return (marks for marks, reached in _after_marks(marked, state) if reached in marked.finals)


def _after_marks(marked: WordAutomaton, state: int) -> Iterator[tuple[_Marks, int]]:
    yield (), state
    for word, target in marked.arcs[state].items():
        if is_mark(word):
            for marks, reached in _after_marks(marked, target):
                yield (word, *marks), reached
