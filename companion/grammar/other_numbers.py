"""The part of a grammar in which a sentence is said again with other numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

from companion.grammar.compiled import CallGrammar
from companion.grammar.jsgf import Expansion, Word, children

JOINING = frozenset({"a", "an", "and"})
"""Words that stand inside numbers and elsewhere too."""
_UNITS_TOO = frozenset({"of", "second", "seconds"})
"""Words of the number rules that are mostly no numbers: "thirty seconds" is a time."""


class WordStates(Protocol):
    """What a recognizer needs to be held to a grammar: states, and the words that lead from one to
    the next.

    A ``CallGrammar`` is one.
    """

    @property
    def start(self) -> int:
        """State before the first word."""
        ...

    @property
    def words(self) -> frozenset[str]:
        """Every word that may be said."""
        ...

    def arcs(self, state: int) -> Mapping[str, int]:
        """Words that may come next, each with the state it leads to."""
        ...

    def is_final(self, state: int) -> bool:
        """Whether a sentence may end here."""
        ...


class OtherNumbers:
    """Every sentence of a grammar that is like a given one but for its numbers.

    A word after a number may stand in the singular or the plural: "one ounce" is "four ounces"
    with another number.

    Args:
        grammar: The whole grammar.
        words: A sentence of it.
        numbers: Words that numbers are made of, from ``number_words``.

    Attributes:
        start: State before the first word.
        words: Every word that may be said.
        names: The words besides the numbers, in order, each number as "#"; two sentences with the
            same names differ in their numbers alone.
    """

    def __init__(
        self,
        grammar: WordStates,
        words: Sequence[str],
        numbers: frozenset[str],
    ) -> None:
        self.start = 0
        slots = _slots(words, numbers)
        self.names = tuple("#" if slot is None else slot for slot in slots)
        inside = numbers | JOINING
        # A state is a state of the grammar, the number of slots passed, and whether the number in
        # the next slot has begun.
        numbered = {(grammar.start, 0, False): 0}
        waiting = [(grammar.start, 0, False)]
        self._arcs: list[dict[str, int]] = [{}]
        self._finals: set[int] = set()
        while waiting:
            here = waiting.pop()
            state, place, begun = here
            if grammar.is_final(state) and place + begun == len(slots):
                self._finals.add(numbered[here])
            for word, target in grammar.arcs(state).items():
                after = _after(slots, place, begun, word, inside)
                if after is None:
                    continue
                there = (target, *after)
                if there not in numbered:
                    numbered[there] = len(self._arcs)
                    self._arcs.append({})
                    waiting.append(there)
                self._arcs[numbered[here]][word] = numbered[there]
        self.words: frozenset[str] = frozenset().union(*self._arcs)

    def arcs(self, state: int) -> Mapping[str, int]:
        """Words that may come next, each with the state it leads to."""
        return self._arcs[state]

    def is_final(self, state: int) -> bool:
        """Whether a sentence may end here."""
        return state in self._finals


def number_words(grammar: CallGrammar) -> frozenset[str]:
    """The words that a grammar's rules for numbers are made of, without those of ``JOINING``."""
    found: set[str] = set()
    waiting: list[Expansion] = [
        expansion
        for name, expansion in grammar.rules.expansions.items()
        if name.startswith("numbers.")
    ]
    while waiting:
        expansion = waiting.pop()
        if isinstance(expansion, Word):
            found.add(expansion.text)
        waiting.extend(children(expansion))
    return frozenset(found - JOINING - _UNITS_TOO)


def _slots(words: Sequence[str], numbers: frozenset[str]) -> list[str | None]:
    """The words of a sentence, with None for each number."""
    slots: list[str | None] = []
    run: list[str] = []
    for word in (*words, ""):
        if word in numbers or word in JOINING:
            run.append(word)
            continue
        slots.extend([None] if numbers.intersection(run) else run)
        run = []
        if word:
            slots.append(word)
    return slots


def _after(
    slots: Sequence[str | None], place: int, begun: bool, word: str, inside: frozenset[str]
) -> tuple[int, bool] | None:
    """How many slots are passed after a word, and whether it belongs to the number of the next
    slot; None where it does not fit."""
    if place < len(slots) and slots[place] is None and word in inside:
        return place, True
    following = place + begun
    if following < len(slots):
        slot = slots[following]
        if slot is not None and _same_name(word, slot):
            return following + 1, False
    return None


def _same_name(one: str, other: str) -> bool:
    """Whether two words are one, in the singular or the plural."""
    return one == other or one in _plurals(other) or other in _plurals(one)


def _plurals(word: str) -> tuple[str, ...]:
    return (f"{word}s", f"{word}es", *(("feet",) if word == "foot" else ()))
