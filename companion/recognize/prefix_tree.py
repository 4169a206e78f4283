"""The grammar as a decoder sees it: a prefix tree of spelled words, which says what may come next
and what words are finished by it.

The symbols are whatever the words are spelled in: tokens for Whisper's decoder, phonemes for the
network. Each state of the grammar has a tree of its own, built when it is first reached; where a
word ends, the tree of the state after it goes on.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from companion.grammar.numbers_alone import SaidMost

Spelling = Callable[[str], Sequence[Sequence[int]]]
"""Gives the ways in which a word may be spelled, each as symbols; none where it cannot be."""


@dataclass(slots=True, eq=False)
class Place:
    """A place in the tree of the words that may follow one state of the grammar.

    Attributes:
        children: Where each further symbol of a word leads.
        finished: Words that end here, with the state of the grammar that each leads to.
        words: Every word that goes through here.
        usual: By a state of what is said most, before the word: whether any of those words may
            follow it.
        other: By the same: for each of the steps whether it leads to another form only.
        steps: What ``PrefixTree.steps`` worked out for this place, once asked.
    """

    children: dict[int, Place] = field(default_factory=dict)
    finished: list[tuple[str, int]] = field(default_factory=list)
    words: list[str] = field(default_factory=list)
    usual: dict[int, bool] = field(default_factory=dict)
    other: dict[int, NDArray[np.bool_]] = field(default_factory=dict)
    steps: Steps | None = None


@dataclass(frozen=True, slots=True)
class Steps:
    """Every symbol that may follow a place. One may occur twice, in two words.

    Attributes:
        symbols: The symbols.
        columns: The same, shape (n,), to take them out of an array by.
        targets: Where each leads.
        words: The word that each finishes first, or None within a word.
        ending: For a place where a call may end: the last word, to be finished; else None.
    """

    symbols: tuple[int, ...]
    columns: NDArray[np.int64]
    targets: tuple[Place, ...]
    words: tuple[str | None, ...]
    ending: str | None


class PrefixTree:
    """The automaton of a grammar, spelled. A word that cannot be spelled is left out.

    Attributes:
        grammar: The grammar.
        spelling: How its words are spelled.
    """

    def __init__(self, grammar: SaidMost, spelling: Spelling) -> None:
        """Prepare for a grammar.

        Args:
            grammar: What may be said.
            spelling: How its words are spelled.
        """
        self.grammar = grammar
        self.spelling = spelling
        self._roots: dict[int, Place] = {}
        # Built at once, so that the first call does not wait for it.
        self._root(grammar.start)
        grammar.usual_step(grammar.start, "")

    @property
    def root(self) -> Place:
        """The place before the first word."""
        return self._root(self.grammar.start)

    def _root(self, state: int) -> Place:
        root = self._roots.get(state)
        if root is None:
            root = self._roots[state] = Place()
            for word, target in self.grammar.arcs(state).items():
                for way in self.spelling(word):
                    place = root
                    for symbol in way:
                        place = place.children.setdefault(symbol, Place())
                        place.words.append(word)
                    place.finished.append((word, target))
        return root

    def steps(self, place: Place) -> Steps:
        """Return every symbol that may follow this place."""
        if place.steps is None:
            symbols = [*place.children]
            targets = [*place.children.values()]
            words: list[str | None] = [None] * len(symbols)
            ending = None
            for word, state in place.finished:
                following = self._root(state).children
                symbols += following
                targets += following.values()
                words += [word] * len(following)
                if self.grammar.is_final(state):
                    ending = word
            columns = np.array(symbols, dtype=np.int64)
            place.steps = Steps(tuple(symbols), columns, tuple(targets), tuple(words), ending)
        return place.steps

    def usual_step(self, state: int, word: str | None) -> int:
        """As ``CallGrammar.usual_step``; within a word (None) the state stays."""
        return state if word is None else self.grammar.usual_step(state, word)

    def passes_usual(self, place: Place, state: int) -> bool:
        """Whether what is said most can go on through a place.

        Args:
            place: Inside a word, or at its end.
            state: Of what is said most, before that word.
        """
        known = place.usual.get(state)
        if known is None:
            known = any(self.grammar.usual_step(state, word) >= 0 for word in place.words)
            place.usual[state] = known
        return known

    def to_other_forms(self, place: Place, state: int) -> NDArray[np.bool_]:
        """Of each step from a place, whether it leads to another form than the plain one only.

        Args:
            place: Inside a word, or at its end.
            state: Of what is said most, before that word.

        Returns:
            Shape (n,), as the symbols of ``steps``; worked out once a place and state.
        """
        known = place.other.get(state)
        if known is None:
            steps = self.steps(place)
            after = {word: self.usual_step(state, word) for word in set(steps.words)}
            known = place.other[state] = np.array(
                [
                    not self.passes_usual(target, after[word])
                    for word, target in zip(steps.words, steps.targets, strict=True)
                ],
                dtype=np.bool_,
            )
        return known
