"""The one automaton behind a grammar, deterministic and minimal: what recognizers hold to; and the
marks that tags leave between the words, which the parser follows."""

from __future__ import annotations

import hashlib
from collections.abc import Container, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Open:
    """Here begins an expansion with these tags."""

    tags: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Close:
    """Here ends the expansion opened last."""


CLOSE = Close()


@dataclass(frozen=True, slots=True)
class WordAutomaton:
    """A deterministic, minimal word automaton, numbered in one canonical way.

    State 0 is the start. Every state can be reached, and from every one a sentence can be ended
    (unless nothing can be said at all). Grammars in which the same can be said have equal automata.

    Attributes:
        arcs: For each state, the words that may come next, each with the state it leads to.
        finals: States in which a sentence may end.
    """

    arcs: tuple[Mapping[str, int], ...]
    finals: frozenset[int]

    def fingerprint(self) -> str:
        """SHA-256 (hex) of states, arcs and ends; the same in every process."""
        digest = hashlib.sha256()
        for number, arcs in enumerate(self.arcs):
            digest.update(f"{number} {number in self.finals}\n".encode())
            for word in sorted(arcs):
                digest.update(f"{word} {arcs[word]}\n".encode())
        return digest.hexdigest()


def minimal_of_sentences(sentences: Iterable[Sequence[str]]) -> WordAutomaton:
    """The minimal automaton of a list of sentences."""
    arcs: list[dict[str, int]] = [{}]
    finals: set[int] = set()
    for words in sentences:
        state = 0
        for word in words:
            target = arcs[state].get(word)
            if target is None:
                target = arcs[state][word] = len(arcs)
                arcs.append({})
            state = target
        finals.add(state)
    return canonical(*minimal(arcs, finals))


def every_sentence(automaton: WordAutomaton) -> Iterator[tuple[str, ...]]:
    """Yield every sentence, words in order of the alphabet; endless if the grammar has a loop."""
    waiting: list[tuple[tuple[str, ...], int]] = [((), 0)]
    while waiting:
        words, state = waiting.pop()
        if state in automaton.finals:
            yield words
        following = sorted(automaton.arcs[state].items(), reverse=True)
        waiting += [((*words, word), target) for word, target in following]


def minimal(
    arcs: list[dict[str, int]], finals: set[int]
) -> tuple[list[dict[str, int]], set[int], int]:
    """Merge states from which the same can be said; the last value is the class of state 0.

    States with finitely many sentences after them are classed once, from the end backwards. Those
    on or before a loop are split until nothing splits any more.
    """
    kinds: dict[int, int] = {}
    numbers: dict[Hashable, int] = {}
    ending, looping = _by_what_follows(arcs)
    for state in ending:
        same: Hashable = state in finals, frozenset((w, kinds[t]) for w, t in arcs[state].items())
        kinds[state] = numbers.setdefault(same, len(numbers))
    first = len(numbers)
    kinds.update((state, first + (state in finals)) for state in looping)
    split_looping(arcs, looping, kinds, first)
    merged: list[dict[str, int]] = [{} for _ in range(max(kinds.values()) + 1)]
    for state, kind in kinds.items():
        if not merged[kind]:
            merged[kind] = {word: kinds[target] for word, target in arcs[state].items()}
    return merged, {kinds[state] for state in finals}, kinds[0]


def split_looping(
    arcs: Sequence[Mapping[str, int]], looping: Sequence[int], kinds: dict[int, int], first: int
) -> None:
    """Split classes of states until those of one class say the same (Moore's refinement).

    Args:
        arcs: Of every state.
        looping: States whose classes are split.
        kinds: Class of every state that these lead to; those of ``looping`` by whether a sentence
            may end there. The classes of the looping states are changed.
        first: Number of the first new class; those after it must be free too.
    """
    count = len({kinds[state] for state in looping})
    while looping:
        split: dict[Hashable, int] = {}
        refined: dict[int, int] = {}
        for state in looping:
            same = kinds[state], frozenset((w, kinds[t]) for w, t in arcs[state].items())
            refined[state] = first + split.setdefault(same, len(split))
        kinds.update(refined)
        if len(split) == count:
            break
        count = len(split)


def _by_what_follows(arcs: list[dict[str, int]]) -> tuple[list[int], list[int]]:
    """States with finitely many sentences after them, each after its targets; and the others."""
    before: list[list[int]] = [[] for _ in arcs]
    open_arcs = [len(row) for row in arcs]
    for state, row in enumerate(arcs):
        for target in row.values():
            before[target].append(state)
    ending = [state for state, count in enumerate(open_arcs) if count == 0]
    for target in ending:  # grows while it is walked
        for state in before[target]:
            open_arcs[state] -= 1
            if open_arcs[state] == 0:
                ending.append(state)
    return ending, [state for state, count in enumerate(open_arcs) if count > 0]


def canonical(
    arcs: Sequence[Mapping[str, int]], finals: Container[int], start: int
) -> WordAutomaton:
    """Number the states breadth first from the start, words in order of the alphabet.

    Args:
        arcs: For each state, the words that may come next, each with the state it leads to.
        finals: States in which a sentence may end.
        start: The state before the first word; it becomes 0.
    """
    numbers = {start: 0}
    order = [start]
    rows: list[dict[str, int]] = []
    for state in order:  # grows while it is walked
        row: dict[str, int] = {}
        for word, target in sorted(arcs[state].items()):
            if target not in numbers:
                numbers[target] = len(order)
                order.append(target)
            row[word] = numbers[target]
        rows.append(row)
    ends = (number for number, state in enumerate(order) if state in finals)
    return WordAutomaton(tuple(rows), frozenset(ends))
