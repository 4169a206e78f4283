"""Sentences that the grammar can take in two ways, found on the automaton itself.

The search is exact: it walks every pair of different tagged trees that agree in their words, as far
as such pairs lead to states not seen before.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass

from companion.grammar.automaton import Close, Network, NetworkState, WordAutomaton, word_automaton
from companion.grammar.compiler import compile_network
from companion.grammar.linking import LinkedRules
from companion.grammar.parsing import Parser
from companion.grammar.tree import Node, Parse


@dataclass(frozen=True, slots=True)
class Ambiguity:
    """A sentence with two trees, the shortest of its kind."""

    one: Parse
    other: Parse

    @property
    def text(self) -> str:
        """The words of the sentence."""
        return " ".join(self.one.words)


def ambiguities(rules: LinkedRules) -> tuple[Ambiguity, ...]:
    """Find every kind of ambiguous sentence, each by a shortest example.

    Two examples are of one kind if their trees have the same tags in the same order.
    """
    parser = Parser(rules)
    kinds: dict[frozenset[tuple[str, ...]], Ambiguity] = {}
    for words in _sentences_with_two_trees(word_automaton(_marks_as_words(compile_network(rules)))):
        parses = parser.parse(words)
        for number, one in enumerate(parses):
            for other in parses[:number]:
                kind = frozenset((_tags(one), _tags(other)))
                kinds.setdefault(kind, Ambiguity(other, one))
    return tuple(kinds.values())


def describe(parse: Parse) -> str:
    """A tree in one line: ``intent=reading(measure=gap, number "thirty", unit=thou)``."""
    return ", ".join(_describe(parse, node) for node in parse.nodes)


def _describe(parse: Parse, node: Node) -> str:
    own = f'{node.key} "{parse.text(node)}"' if node.value is None else f"{node.key}={node.value}"
    inside = ", ".join(_describe(parse, child) for child in node.children)
    return f"{own}({inside})" if inside else own


def _tags(parse: Parse) -> tuple[str, ...]:
    return tuple(f"{node.key}={node.value}" for node in parse.walk())


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


def _sentences_with_two_trees(marked: WordAutomaton) -> Iterator[tuple[str, ...]]:
    """Yield, breadth first, one sentence for each pair of states in which two trees can end."""
    steps = [_steps(marked, state) for state in range(len(marked.arcs))]
    ends = [frozenset(_marks_to_end(marked, state)) for state in range(len(marked.arcs))]
    # A pair has parted once its trees differ; it may then stand in one state again.
    start = (0, 0, False)
    seen = {start}
    waiting: deque[tuple[tuple[int, int, bool], tuple[str, ...]]] = deque([(start, ())])
    while waiting:
        (one, other, parted), words = waiting.popleft()
        if (ends[one] and ends[other]) if parted else len(ends[one]) > 1:
            yield words
        for word, ways in steps[one].items():
            for marks, target in ways:
                for rival_marks, rival in steps[other].get(word, ()):
                    # Both must end in the same order each time, or every pair is walked twice.
                    pair = (min(target, rival), max(target, rival), parted or marks != rival_marks)
                    if pair not in seen:
                        seen.add(pair)
                        waiting.append((pair, (*words, word)))


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
