"""A grammar with its numbers alone besides: what may be said while a number is asked about.

Behind the word "correction" a grammar has every number that may stand in place of another, with its
unit and without. What follows that word may then be said without it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

from companion.grammar.compiled import CallGrammar

CARRIER = "correction"
"""The word behind which the numbers stand."""


class SaidMost(Protocol):
    """What a search needs of a grammar: its states, and which forms of a call are the usual ones.

    A ``CallGrammar`` is one.
    """

    @property
    def start(self) -> int:
        """State before the first word."""
        ...

    def arcs(self, state: int) -> Mapping[str, int]:
        """Words that may come next, each with the state it leads to."""
        ...

    def is_final(self, state: int) -> bool:
        """Whether a sentence may end here."""
        ...

    def usual_step(self, state: int, word: str) -> int:
        """The state of the usual forms after one more word; -1 where no usual form has it."""
        ...

    def is_usual(self, words: Sequence[str]) -> bool:
        """Whether this is a whole sentence made of the usual forms alone."""
        ...


class WithNumbersAlone:
    """Every sentence of a grammar, and every number alone, with or without the call sign.

    Its states are sets of states of the grammar, made when they are first reached.

    Args:
        grammar: What may be said besides; one without the carrier has nothing to add.

    Attributes:
        start: State before the first word.
    """

    def __init__(self, grammar: CallGrammar) -> None:
        self._grammar = grammar
        self._signed = grammar.walk(grammar.call_sign) if grammar.call_sign else None
        self._behind_sign = grammar.walk((*grammar.call_sign, CARRIER))
        self._numbers = grammar.walk((CARRIER,))
        self._sets: list[tuple[int, ...]] = []
        self._known: dict[tuple[int, ...], int] = {}
        self._arcs: dict[int, dict[str, int]] = {}
        begun = (grammar.start,) if self._numbers is None else (grammar.start, self._numbers)
        self.start = self._state(begun)
        # The same of the usual forms; 0 is before the first word, as the grammar has it.
        self._usual_sets: list[tuple[int, ...]] = [(0, grammar.usual_step(0, CARRIER))]
        self._usual_known = {self._usual_sets[0]: 0}
        signed = 0
        for word in grammar.call_sign:
            signed = grammar.usual_step(signed, word)
        self._usual_signed = signed
        self._usual_behind_sign = grammar.usual_step(signed, CARRIER)

    def arcs(self, state: int) -> Mapping[str, int]:
        """Words that may come next, each with the state it leads to."""
        known = self._arcs.get(state)
        if known is None:
            targets: dict[str, tuple[int, ...]] = {}
            for inner in self._sets[state]:
                for word, target in self._grammar.arcs(inner).items():
                    targets[word] = (*targets.get(word, ()), target)
            known = {word: self._state(self._behind(reached)) for word, reached in targets.items()}
            self._arcs[state] = known
        return known

    def is_final(self, state: int) -> bool:
        """Whether a sentence may end here."""
        return any(map(self._grammar.is_final, self._sets[state]))

    def usual_step(self, state: int, word: str) -> int:
        """As ``CallGrammar.usual_step``: a number alone is a usual form."""
        if state < 0:
            return -1
        reached = [self._grammar.usual_step(each, word) for each in self._usual_sets[state]]
        if self._usual_signed in reached and self._usual_signed > 0:
            reached.append(self._usual_behind_sign)
        found = tuple(sorted({each for each in reached if each >= 0}))
        if not found:
            return -1
        number = self._usual_known.get(found)
        if number is None:
            number = self._usual_known[found] = len(self._usual_sets)
            self._usual_sets.append(found)
        return number

    def is_usual(self, words: Sequence[str]) -> bool:
        """Whether this is a whole sentence made of the usual forms alone."""
        signed = len(self._grammar.call_sign)
        if tuple(words[:signed]) == self._grammar.call_sign:
            words = words[signed:]
        return self._grammar.is_usual(words) or self._grammar.is_usual((CARRIER, *words))

    def _behind(self, reached: tuple[int, ...]) -> tuple[int, ...]:
        """What was reached, with the numbers where that is the end of the call sign."""
        if self._signed in reached and self._behind_sign is not None:
            return (*reached, self._behind_sign)
        return reached

    def _state(self, inner: tuple[int, ...]) -> int:
        found = tuple(sorted(set(inner)))
        number = self._known.get(found)
        if number is None:
            number = self._known[found] = len(self._sets)
            self._sets.append(found)
        return number
