"""A grammar ready to use: JSGF rules, the automaton compiled from them, and what can be asked of it."""
# CONTRACT STUB, to be filled in by the grammar room's owner; signatures bind.
from __future__ import annotations

from collections.abc import Mapping, Sequence
from random import Random

from companion.grammar.tree import Parse
from companion.grammar.vocabulary import Vocabulary


class CallGrammar:
    """One active grammar: what may be said now.

    ``start``, ``arcs`` and ``is_final`` show the deterministic word automaton that recognizers hold to.
    """

    start: int
    fingerprint: str  # SHA-256 (hex) of the deterministic automaton; the same words give the same value
    words: frozenset[str]

    def arcs(self, state: int) -> Mapping[str, int]:
        """Words that may come next, each with the state it leads to."""
        raise NotImplementedError

    def is_final(self, state: int) -> bool:
        """Whether a call may end here."""
        raise NotImplementedError

    def walk(self, words: Sequence[str], state: int | None = None) -> int | None:
        """State reached by these words (from ``start`` unless given), or None if the grammar has no such beginning."""
        raise NotImplementedError

    def parse(self, words: Sequence[str]) -> tuple[Parse, ...]:
        """Every distinct tagged tree of a whole sentence; empty if it is no sentence of the grammar."""
        raise NotImplementedError

    def generate(self, random: Random) -> tuple[str, ...]:
        """A random sentence; every rule and alternative can occur."""
        raise NotImplementedError


def load_grammar(vocabulary: Vocabulary | None = None) -> CallGrammar:
    """Compile the shipped grammars; with a vocabulary, its words stand in place of ``bench.gram``."""
    raise NotImplementedError
