"""The grammar as the decoder sees it: which tokens may come next, and what words they finish."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from companion.grammar.compiled import CallGrammar

Spelling = Callable[[str], Sequence[Sequence[int]]]
"""Gives the ways in which a word may be written, each as the ids of its tokens."""


@dataclass(slots=True, eq=False)
class Place:
    """A place in the tree of the words that may follow one state of the grammar.

    Attributes:
        children: Where each further token of a word leads.
        finished: Words that end here, with the state of the grammar that each leads to.
        words: Every word that goes through here.
        other: By a state of what is said most, before the word: for each of the steps whether it
            leads to another form only.
        steps: What ``TokenTree.steps`` worked out for this place, once asked.
    """

    children: dict[int, Place] = field(default_factory=dict)
    finished: list[tuple[str, int]] = field(default_factory=list)
    words: list[str] = field(default_factory=list)
    other: dict[int, NDArray[np.bool_]] = field(default_factory=dict)
    steps: Steps | None = None


@dataclass(frozen=True, slots=True)
class Steps:
    """Every token that may follow a place.

    Attributes:
        tokens: Shape (n,): their indices in ``TokenTree.vocabulary``; a token may occur twice, in
            two words.
        targets: Where each leads.
        words: The word that each finishes first, or None within a word.
        ending: For a place where a call may end: the last word, to be finished; else None.
    """

    tokens: NDArray[np.int64]
    targets: tuple[Place, ...]
    words: tuple[str | None, ...]
    ending: str | None


class TokenTree:
    """The automaton of a grammar, spelled in tokens; each state's tree is built when it is first
    reached.

    Attributes:
        grammar: The grammar.
    """

    def __init__(self, grammar: CallGrammar, spelling: Spelling) -> None:
        """Prepare for a grammar.

        Args:
            grammar: What may be said.
            spelling: How its words are written.
        """
        self.grammar = grammar
        self._spelled = {word: tuple(map(tuple, spelling(word))) for word in grammar.words}
        used = {token for ways in self._spelled.values() for way in ways for token in way}
        self.vocabulary = np.array(sorted(used), dtype=np.int64)
        """Ids of every token of the grammar, ascending."""
        self._index = {int(token): i for i, token in enumerate(self.vocabulary)}
        self._roots: dict[int, Place] = {}
        # At once, so that the first call does not wait for it.
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
                for way in self._spelled[word]:
                    place = root
                    for token in way:
                        place = place.children.setdefault(token, Place())
                        place.words.append(word)
                    place.finished.append((word, target))
        return root

    def usual_step(self, state: int, word: str | None) -> int:
        """As ``CallGrammar.usual_step``; within a word (None) the state stays."""
        return state if word is None else self.grammar.usual_step(state, word)

    def to_other_forms(self, place: Place, state: int) -> NDArray[np.bool_]:
        """Of each step from a place, whether it leads to another form than the plain one only.

        Args:
            place: Inside a word, or at its end.
            state: Of what is said most, before that word.

        Returns:
            Shape (n,), as the tokens of ``steps``; worked out once a place and state.
        """
        known = place.other.get(state)
        if known is None:
            steps = self.steps(place)
            states = {word: self.usual_step(state, word) for word in set(steps.words)}
            known = place.other[state] = np.array(
                [
                    all(self.usual_step(states[word], through) < 0 for through in target.words)
                    for word, target in zip(steps.words, steps.targets, strict=True)
                ],
                dtype=np.bool_,
            )
        return known

    def steps(self, place: Place) -> Steps:
        """Return every token that may follow this place."""
        if place.steps is None:
            tokens = [self._index[token] for token in place.children]
            targets = list(place.children.values())
            words: list[str | None] = [None] * len(tokens)
            ending = None
            for word, state in place.finished:
                following = self._root(state).children
                tokens += [self._index[token] for token in following]
                targets += following.values()
                words += [word] * len(following)
                if self.grammar.is_final(state):
                    ending = word
            place.steps = Steps(
                np.array(tokens, dtype=np.int64), tuple(targets), tuple(words), ending
            )
        return place.steps
