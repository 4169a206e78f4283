"""What a sentence might be taken for: the same with a word changed for one that sounds like it.

Numbers are what must not be misheard, so a number's word is changed first, where there is one:
teens and tens for one another, a digit for a digit, a word of the number lost or one too many.
"""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from companion.intent import numbers
from companion.recognize.pronunciation import ways_of

MOST = 3
"""Rivals of a sentence."""
NUMBER_FIRST = 0.8
"""Share of the rivals of a sentence with a number in which it is the number that differs."""
DIGITS = (*reversed(numbers.ZEROS), *numbers.DIGITS)
TEENS = tuple(word for word, value in numbers.TEENS.items() if value > 12)
TENS = tuple(word for word, value in numbers.TENS.items() if value > 20)
"""In the order of ``TEENS``."""
SHORT = ("ten", "eleven", "twelve", "twenty")
POWERS = ("hundred", "thousand", "point")
NUMBERS = frozenset((*DIGITS, *TEENS, *TENS, *SHORT, *POWERS))
_Ways = tuple[int, ...]


class Rivals:
    """Makes what a sentence might be taken for."""

    def __init__(self, words: Iterable[str]) -> None:
        """Look for words that sound alike.

        Args:
            words: Those that may take the place of another one.
        """
        self._alike = _alike({word: ways_of(word) for word in words})

    def of(self, text: str, draw: random.Random) -> list[str]:
        """Draw up to ``MOST`` rivals of a text, none of them twice."""
        words = text.split()
        places = [at for at, word in enumerate(words) if word in NUMBERS]
        found: dict[str, None] = {}
        for _ in range(2 * MOST):
            if places and draw.random() < NUMBER_FIRST:
                other = _other_number(words, draw.choice(places), len(places), draw)
            else:
                other = self._other_word(words, draw)
            if other is not None and other != words and all(map(ways_of, other)):
                found[" ".join(other)] = None
            if len(found) == MOST:
                break
        return list(found)

    def _other_word(self, words: Sequence[str], draw: random.Random) -> list[str] | None:
        at = draw.randrange(len(words))
        alike = self._alike.get(words[at])
        return [*words[:at], draw.choice(alike), *words[at + 1 :]] if alike else None


def _other_number(
    words: Sequence[str], at: int, count: int, draw: random.Random
) -> list[str] | None:
    """Change a number's word, or leave it out where the number has others."""
    word, before, after = words[at], words[:at], words[at + 1 :]
    if count > 1 and draw.random() < 0.2:
        return [*before, *after]
    for ones, others in ((TEENS, TENS), (TENS, TEENS)):
        if word in ones:
            place, kind = ones.index(word), draw.random()
            if kind < 0.5:
                return [*before, others[place], *after]
            if kind < 0.6:
                digit = DIGITS[place + DIGITS.index("three")]
                return [*before, digit, *(("ten",) if ones is TENS else ()), *after]
            return [*before, draw.choice(ones), *after]
    if word in DIGITS:
        if draw.random() < 0.25:
            place = DIGITS.index(word) - DIGITS.index("three")
            if place >= 0:
                return [*before, draw.choice((TEENS, TENS))[place], *after]
        return [*before, draw.choice(DIGITS), *after]
    if word in SHORT:
        return [*before, draw.choice((*SHORT, "two", "seven")), *after]
    return [*before, *after]


def _alike(ways: Mapping[str, Sequence[_Ways]]) -> Mapping[str, Sequence[str]]:
    """Words with one phoneme changed, added or lost, and no way of saying them the same."""
    with_hole: dict[tuple[int | None, ...], set[str]] = defaultdict(set)
    for word, said in ways.items():
        for way in said:
            for key in _holes(way):
                with_hole[key].add(word)
    alike: dict[str, list[str]] = {}
    for word, said in ways.items():
        near = {other for way in said for key in _holes(way) for other in with_hole[key]}
        different = {other for other in near if not set(ways[other]) & set(said)}
        if different:
            alike[word] = sorted(different)
    return alike


def _holes(way: _Ways) -> Iterable[tuple[int | None, ...]]:
    for at in range(len(way)):
        yield (*way[:at], None, *way[at + 1 :])
    for at in range(len(way) + 1):
        yield (*way[:at], None, *way[at:])
