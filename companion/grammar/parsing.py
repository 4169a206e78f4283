"""Words to tagged trees, by following the marks of a network."""

from __future__ import annotations

from collections.abc import Sequence

from companion.grammar.automaton import Close, Network, Open
from companion.grammar.tree import Node, Parse

_Step = tuple[int, Open | Close]
"""A mark met, and how many words stand before it."""

_Steps = tuple[_Step, ...]


def parse_words(network: Network, words: Sequence[str]) -> tuple[Parse, ...]:
    """Every distinct tagged tree of a whole sentence; empty if it is no sentence.

    Two ways through the rules that meet the same tags at the same words are one tree. Several tags
    on one expansion become nodes side by side over the same words; the first holds what is inside.
    """
    sentence = tuple(words)
    if network.start is None:
        return ()
    ways = _Ways(network, sentence)
    # From the last word back, so that what follows a word is known when the word is looked at.
    for position, states in reversed(list(enumerate(network.follow(sentence)))):
        for state in states:
            ways.from_here(state, position)
    return tuple(Parse(sentence, _nodes(steps)) for steps in ways.from_here(network.start, 0))


class _Ways:
    """The ways from a state to the end of a sentence, each worked out once."""

    def __init__(self, network: Network, words: tuple[str, ...]) -> None:
        self.network = network
        self.words = words
        self.known: dict[tuple[int, int], tuple[_Steps, ...]] = {}

    def from_here(self, state: int, position: int) -> tuple[_Steps, ...]:
        key = (state, position)
        found = self.known.get(key)
        if found is None:
            found = self.known[key] = self._work_out(state, position)
        return found

    def _work_out(self, state: int, position: int) -> tuple[_Steps, ...]:
        here = self.network.states[state]
        # A dictionary for its order: the same call gives its trees in the same order every time.
        ways: dict[_Steps, None] = {}
        if state == self.network.final and position == len(self.words):
            ways[()] = None
        if position < len(self.words):
            target = here.words.get(self.words[position])
            if target is not None:
                ways.update(dict.fromkeys(self.from_here(target, position + 1)))
        for mark, target in here.silent:
            for rest in self.from_here(target, position):
                ways[rest if mark is None else ((position, mark), *rest)] = None
        return tuple(ways)


def _nodes(steps: _Steps) -> tuple[Node, ...]:
    top: list[Node] = []
    opened: list[tuple[tuple[str, ...], int, list[Node]]] = []
    for position, mark in steps:
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
