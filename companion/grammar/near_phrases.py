"""Phrases that fill the same slot, or carry two kinds of call, and are near.

Found on the automaton of all phrases of a slot: two ways through it part where one says something
near to what the other says, and go on alike. Words that both say count for nothing, so that what
differs is what could be misheard.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping

from companion.grammar.automaton import WordAutomaton, minimal_of_sentences
from companion.grammar.carriers import ASKED, Phrases
from companion.grammar.near_pairs import near_pairs
from companion.grammar.nearness import HOLE, Words, parts_nearness

_LONGEST = 4
"""The most words that stand in place of others. A search of the shipped grammars found no longer
stretches without a common word that are as near as ``LEAST_LIKENESS``."""

_MOST_PARTS = 2
"""In how many places two phrases may differ at most: with three places misheard, nobody hears that
call."""

_MEANS = "}"
"""How the label of the last arc of a phrase begins; the rest of it tells what the phrase may
mean."""

Parts = tuple[tuple[Words, Words], ...]
"""What two phrases say in place of one another, in order."""


def near_phrases_of(phrases: Phrases) -> Iterator[tuple[Words, Words, Parts]]:
    """Find pairs of near phrases that cannot mean the same, one for each way to differ.

    Two phrases that are both always asked about make no pair: the question tells them apart.

    Args:
        phrases: Of one slot, each with all that it may mean.

    Returns:
        Both phrases, and what one says in place of the other.
    """
    meanings = list(dict.fromkeys(phrases.values()))
    number = {meant: f"{_MEANS}{at}" for at, meant in enumerate(meanings)}
    automaton = minimal_of_sentences((*words, number[meant]) for words, meant in phrases.items())
    found: dict[Parts, tuple[Words, Words]] = {}
    for one, other, parts in _Search(automaton).pairs():
        ends = tuple(meanings[int(words[-1][1:])] for words in (one, other))
        if (
            not frozenset.intersection(*ends)
            and not all(ASKED in meant.split() for each in ends for meant in each)
            and parts_nearness(parts) is not None
        ):
            found.setdefault(parts, (one[:-1], other[:-1]))
    for parts, (one, other) in found.items():
        # Phrases that are near in one part alone, or all together, have been found as such already.
        single = (*parts, _joined(parts))
        if len(parts) == 1 or not any(
            (each,) in found or (each[::-1],) in found for each in single
        ):
            yield one, other, parts


def _joined(parts: Parts) -> tuple[Words, Words]:
    one, other = (tuple(word for part in parts for word in part[at]) for at in (0, 1))
    return one, other


class _Search:
    """Follows two ways through one automaton."""

    def __init__(self, automaton: WordAutomaton) -> None:
        self.automaton = automaton
        self._paths: dict[int, Mapping[Words, int]] = {}
        spoken: set[Words] = set()
        for state in range(len(automaton.arcs)):
            spoken.update(self.paths(state))
        self.near = _near(spoken)

    def paths(self, state: int) -> Mapping[Words, int]:
        """What may be said next, up to ``_LONGEST`` words, each with the state that it leads to."""
        known = self._paths.get(state)
        if known is None:
            known = self._paths[state] = dict(self._follow(state, ()))
        return known

    def _follow(self, state: int, before: Words) -> Iterator[tuple[Words, int]]:
        for word, target in self.automaton.arcs[state].items():
            if not word.startswith((HOLE, _MEANS)):
                words = (*before, word)
                yield words, target
                if len(words) < _LONGEST:
                    yield from self._follow(target, words)

    def pairs(self) -> Iterator[tuple[Words, Words, Parts]]:
        """Yield whole phrases, with their meanings at the end, once for each way to differ."""
        start: tuple[int, int, Parts] = (0, 0, ())
        seen = {start}
        waiting: deque[tuple[tuple[int, int, Parts], Words, Words]] = deque([(start, (), ())])
        while waiting:
            (left, right, parts), one, other = waiting.popleft()
            for place, said, rival in self._next(left, right, parts):
                if said[-1].startswith(_MEANS):
                    if place[2]:
                        yield (*one, *said), (*other, *rival), place[2]
                elif place not in seen:
                    seen.add(place)
                    waiting.append((place, (*one, *said), (*other, *rival)))

    def _next(
        self, left: int, right: int, parts: Parts
    ) -> Iterator[tuple[tuple[int, int, Parts], Words, Words]]:
        others = self.automaton.arcs[right]
        for word, target in self.automaton.arcs[left].items():
            if word.startswith(_MEANS):
                for rival, end in others.items():
                    if rival.startswith(_MEANS):
                        yield (target, end, parts), (word,), (rival,)
            elif word in others:
                yield (target, others[word], parts), (word,), (word,)
        if len(parts) == _MOST_PARTS:
            return
        rivals = self.paths(right)
        for words, target in self.paths(left).items():
            for other in self.near.get(words, ()):
                # Where both ways are still the same, each pair would be met twice.
                if other in rivals and (parts or words < other):
                    yield (target, rivals[other], (*parts, (words, other))), words, other


def _near(spoken: set[Words]) -> Mapping[Words, tuple[Words, ...]]:
    """Of each phrase, those near to it that have no word in common with it."""
    found: dict[Words, list[Words]] = {}
    for one, other in near_pairs(spoken):
        found.setdefault(one, []).append(other)
        found.setdefault(other, []).append(one)
    return {words: tuple(rivals) for words, rivals in found.items()}
