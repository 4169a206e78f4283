"""The grammar as the phoneme network hears it: which phoneme may come next, and what word ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import islice, product

from companion.grammar.compiled import CallGrammar
from companion.grammar.pronounce import pronunciations
from companion.recognize.phonemes import PHONEMES

MOST_WAYS = 12
"""Ways to pronounce a sentence that are tried; most words have one."""
MOST_WAYS_OF_A_WORD = 3


@dataclass(slots=True, eq=False)
class Spot:
    """A place in the tree of the words that may follow one state of the grammar.

    Attributes:
        children: Where each further phoneme of a word leads.
        finished: Words that end here, with the state of the grammar that each leads to.
        words: Every word that goes through here.
        usual: By a state of what is said most, whether any of those words may follow it.
        steps: What ``PhonemeTree.steps`` worked out for this spot, once asked.
        ending: Where a call may end here, its last word.
    """

    children: dict[int, Spot] = field(default_factory=dict)
    finished: list[tuple[str, int]] = field(default_factory=list)
    words: list[str] = field(default_factory=list)
    usual: dict[int, bool] = field(default_factory=dict)
    steps: tuple[Step, ...] | None = None
    ending: str | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """One phoneme that may follow.

    Attributes:
        phoneme: Its index.
        target: Where it leads.
        word: The word that ended before it, or None within a word.
    """

    phoneme: int
    target: Spot
    word: str | None


class PhonemeTree:
    """The automaton of a grammar, spelled in phonemes; each state's tree is built when it is first
    reached. A word that nobody knows how to pronounce is left out."""

    def __init__(self, grammar: CallGrammar) -> None:
        self._grammar = grammar
        self._roots: dict[int, Spot] = {}
        # At once, so that the dictionary is read before the first call and not with it.
        self._root(grammar.start)

    @property
    def root(self) -> Spot:
        """The spot before the first word."""
        return self._root(self._grammar.start)

    def _root(self, state: int) -> Spot:
        root = self._roots.get(state)
        if root is None:
            root = self._roots[state] = Spot()
            for word, target in self._grammar.arcs(state).items():
                for way in ways_of(word):
                    spot = root
                    for phoneme in way:
                        spot = spot.children.setdefault(phoneme, Spot())
                        spot.words.append(word)
                    spot.finished.append((word, target))
        return root

    def usual_step(self, state: int, word: str | None) -> int:
        """As ``CallGrammar.usual_step``; within a word (None) the state stays."""
        return state if word is None else self._grammar.usual_step(state, word)

    def passes_usual(self, spot: Spot, state: int) -> bool:
        """Whether what is said most can go on through a spot, from a state before its word."""
        known = spot.usual.get(state)
        if known is None:
            known = any(self._grammar.usual_step(state, word) >= 0 for word in spot.words)
            spot.usual[state] = known
        return known

    def is_usual(self, words: Sequence[str]) -> bool:
        """As ``CallGrammar.is_usual``."""
        return self._grammar.is_usual(words)

    def steps(self, spot: Spot) -> tuple[Step, ...]:
        """Return every phoneme that may follow this spot."""
        if spot.steps is None:
            found = [Step(phoneme, target, None) for phoneme, target in spot.children.items()]
            for word, state in spot.finished:
                found += (
                    Step(phoneme, target, word)
                    for phoneme, target in self._root(state).children.items()
                )
                if self._grammar.is_final(state):
                    spot.ending = word
            spot.steps = tuple(found)
        return spot.steps


@cache
def ways_of(word: str) -> tuple[tuple[int, ...], ...]:
    """Return the ways to pronounce a word, as indices of phonemes; none where none is known."""
    return tuple(
        tuple(PHONEMES[phoneme] for phoneme in way)
        for way in pronunciations(word)[:MOST_WAYS_OF_A_WORD]
    )


def ways_to_say(words: Sequence[str]) -> tuple[tuple[int, ...], ...]:
    """Return ways to pronounce a sentence; none where a word of it has none."""
    choices = [ways_of(word) for word in words]
    return tuple(
        tuple(phoneme for word in choice for phoneme in word)
        for choice in islice(product(*choices), MOST_WAYS)
    )
