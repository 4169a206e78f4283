"""Words to tagged trees, by following the marks of a network."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from companion.grammar.automaton import Close, Network, Open
from companion.grammar.tree import Node, Parse

_Marks = tuple[Open | Close, ...]

_Way = tuple[tuple[int, Open | Close], ...]
"""The marks met up to the end of the sentence, each with how many words stand before it."""


@dataclass(slots=True)
class _Steps:
    """What may follow a state.

    Attributes:
        words: For each word, the marks met before it and the state after it.
        ends: The marks met before the end of a sentence.
    """

    words: dict[str, list[tuple[_Marks, int]]] = field(default_factory=dict)
    ends: list[_Marks] = field(default_factory=list)


def parse_words(network: Network, words: Sequence[str]) -> tuple[Parse, ...]:
    """Parse one sentence; ``Parser`` is quicker for many of the same network."""
    return Parser(network).parse(words)


class Parser:
    """Parses sentences of one network; what may follow a state is worked out once."""

    def __init__(self, network: Network) -> None:
        self._network = network
        self._steps: dict[int, _Steps] = {}

    def parse(self, words: Sequence[str]) -> tuple[Parse, ...]:
        """Every distinct tagged tree of a whole sentence; empty if it is no sentence.

        Two ways through the rules that meet the same tags at the same words are one tree. Several
        tags on one expansion become nodes side by side over the same words; the first holds what is
        inside.
        """
        sentence = tuple(words)
        start = self._network.start
        if start is None:
            return ()
        reached = [{start}]
        for word in sentence:
            reached.append(
                {
                    target
                    for state in reached[-1]
                    for _, target in self._after(state).words.get(word, ())
                }
            )
        # From the last word back. A dictionary for its order: the same sentence gives its trees in
        # the same order every time.
        end = len(sentence)
        ways: dict[int, dict[_Way, None]] = {
            state: dict.fromkeys(_at(end, marks) for marks in self._after(state).ends)
            for state in reached[end]
        }
        for position in reversed(range(end)):
            ways = {
                state: {
                    _at(position, marks) + rest: None
                    for marks, target in self._after(state).words.get(sentence[position], ())
                    for rest in ways[target]
                }
                for state in reached[position]
            }
        return tuple(Parse(sentence, _nodes(way)) for way in ways[start])

    def _after(self, state: int) -> _Steps:
        steps = self._steps.get(state)
        if steps is None:
            steps = self._steps[state] = _Steps()
            for marks, reached in dict.fromkeys(self._without_a_word(state)):
                for word, target in self._network.states[reached].words.items():
                    steps.words.setdefault(word, []).append((marks, target))
                if reached == self._network.final:
                    steps.ends.append(marks)
        return steps

    def _without_a_word(self, state: int) -> Iterator[tuple[_Marks, int]]:
        yield (), state
        for mark, target in self._network.states[state].silent:
            for marks, reached in self._without_a_word(target):
                yield (marks if mark is None else (mark, *marks)), reached


def _at(position: int, marks: _Marks) -> _Way:
    return tuple((position, mark) for mark in marks)


def _nodes(way: _Way) -> tuple[Node, ...]:
    top: list[Node] = []
    opened: list[tuple[tuple[str, ...], int, list[Node]]] = []
    for position, mark in way:
        if isinstance(mark, Open):
            opened.append((mark.tags, position, []))
            continue
        tags, start, inside = opened.pop()
        around = opened[-1][2] if opened else top
        for number, tag in enumerate(tags):
            key, equals, value = tag.partition("=")
            around.append(
                Node(
                    key.strip(),
                    value.strip() if equals else None,
                    start,
                    position,
                    tuple(inside) if number == 0 else (),
                )
            )
    return tuple(top)
