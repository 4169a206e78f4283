"""Sentences of the grammar that are nearly what was written.

Only carrier words are matched by likeness. Numbers and units must stand in the sentence exactly as
they stand in the text: none is changed, dropped or added. So must the words that turn a call
around, and none is taken for its opposite (``opposites``). Of all other words only those that say
nothing are left out: an unknown word may be the very one that matters ("hydraulic oil", "hardly
loose").
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import count

from companion.grammar.compiled import CallGrammar
from companion.grammar.pronounce import pronunciations
from companion.handbook.unit_table import UNITS
from companion.intent.letters import likeness as spelled_alike
from companion.intent.meaning import call_sign_length
from companion.intent.numbers import ARTICLES, NUMBER_WORDS
from companion.intent.opposites import TURNING, crosses, unturned
from companion.intent.text import UNKNOWN
from companion.intent.thresholds import DEFAULT, Thresholds

FILLERS = frozenset(
    {
        "the", "um", "uh", "er", "please", "its", "it's", "my", "our", "now", "just", "this",
        "that",
        "these", "those", "really", "pretty", "very", "quite", "badly", "totally", "completely",
        "kinda", "mate", "sir",
    }
)  # fmt: skip
"""Words that change no call when they are left out; those of degree make it no other call."""

_OPENERS = frozenset(
    {
        "okay", "ok", "alright", "righto", "well", "hey", "so", "then", "also", "and", "i", "i've",
        "ive", "i'm", "im", "we", "we've", "weve", "we're", "she", "she's", "shes", "were", "got",
        "there", "there's", "theres", "here", "here's", "heres", "that's", "thats", "looks", "like",
        "let's", "lets",
    }
)  # fmt: skip
"""The same for words before a call; inside one they say how something is, or are letters."""

_COPULAS = frozenset({"is", "are", "reads", "been", "has"})
"""The same for words inside a call; before one they make a question of it ("is engine running")."""

_TAILS = frozenset(
    tuple(tail.split())
    for tail in (
        "her",
        "it",
        "of her",
        "of it",
        "a bit",
        "a little",
        "a minute",
        "a second",
        "a moment",
        "in her",
        "on her",
        "in it",
        "on it",
        "off it",
        "off her",
        "out of it",
        "out of her",
        "in there",
        "on there",
        "on this",
        "on this one",
        "here",
        "for me",
        "to me",
        "for now",
        "so far",
        "right now",
        "again",
        "at the moment",
        "in the tank",
        "in the crankcase",
        "on the machine",
        "off the machine",
        "if you can",
        "thanks",
        "thank you",
    )
)
"""What may stand behind a whole call and says no more than it: where, for whom, thanks."""

_OF_PLACE = frozenset({"in", "on", "off", "out", "of", "here", "her", "it"})
"""How a tail begins that says where. After a question it is part of what is asked: "what's left in
the tank" asks for the fuel, not about the card."""

_ASKING = frozenset({"what", "what's", "whats", "which", "how", "where", "is", "are", "any", "can"})
"""How a question begins."""

_BY_DEGREES = frozenset({("a", "bit"), ("a", "little"), ("a", "touch"), ("kind", "of")})
"""Words of degree that come in two."""

_ANNOUNCING = frozenset({("write", "down"), ("put", "down"), ("record",), ("log",)})
"""What may stand before any call and only says that it is one."""

_ASKING_FOR = frozenset(
    {
        ("you", "can"), ("can", "you"), ("go", "ahead", "and"), ("i", "have", "to"),
        ("i", "want", "to"), ("i", "need", "to"), ("i'd", "like", "to"),
    }
)  # fmt: skip
"""The same before a call that asks for something."""

_OF_COMMANDS = frozenset(
    {
        "skip", "come", "look", "mix", "stop", "cancel", "hear", "park", "close", "go", "convert",
        "start", "set", "tag", "hang", "clear", "remove", "take", "read", "tell", "listen", "undo",
    }
)  # fmt: skip
"""Words after which an opening asks for something; what is yet to be done at the machine is not
done."""

SAYING_NOTHING = FILLERS | _COPULAS
"""Every word that may be left out inside a call."""

_ADDED_WORDS = frozenset({"of", "for", "to", "on", "timer", "level"})
"""The words that may be added: the smallest, and those that only name the kind of call. What was
done to what, and how it is, is never added."""

UNIT_WORDS = frozenset(
    word for unit in UNITS.values() for form in unit.said for word in form.split()
)
"""Words of units."""

EXACT_WORDS = NUMBER_WORDS | UNIT_WORDS | frozenset(ARTICLES) | {"and", "more", "another"}
"""Words that are never matched by likeness, dropped or added."""

_ADDED_OF = 0.1
_DROPPED_FILLER = 0.05
_JOINED = 0.05
_ADDED = 0.7
_CHANGED_KNOWN = 0.3
"""What each difference costs, in words of difference; a changed word costs what it lacks in
likeness, and more where it was itself a word of the grammar."""

_MOST_STEPS = 20_000
"""A bound on the search, far beyond what any typed call needs."""


@dataclass(frozen=True, slots=True)
class Match:
    """A sentence of the grammar near a text.

    Attributes:
        words: The sentence.
        difference: In words; 0 if nothing but the like was changed.
        changes: What was changed, each a short phrase.
        sure: Every change is one that cannot make one call another: something that is no word taken
            for one very like it, a word that says nothing left out, a space.
        respelled: A word was changed, not only a space or a word that says nothing.
        kept: How many words stand in it as they were written, but for slips.
        others: How many words of their own were taken for another.
    """

    words: tuple[str, ...]
    difference: float
    changes: tuple[str, ...]
    sure: bool
    respelled: bool = False
    kept: int = 0
    others: int = 0

    @property
    def likely(self) -> bool:
        """Whether enough of the sentence was written. Where its only word, or both of its two
        words, are real words taken for others, nothing is left of what was said."""
        return self.others == 0 or (self.others == 1 and self.kept > 0)


@dataclass(frozen=True, slots=True)
class _Step:
    """One step on from a place: what it costs and where it leads."""

    cost: float
    taken: int
    words: tuple[str, ...]
    state: int
    change: str | None = None
    sure: bool = True
    respelled: bool = False
    other: bool = False


_Entry = tuple[float, int, int, int, Match]
"""Difference, order of arrival, place in the text, state of the grammar, the way there."""


def nearest(
    words: Sequence[str], grammar: CallGrammar, thresholds: Thresholds = DEFAULT, most: int = 4
) -> tuple[Match, ...]:
    """Find the sentences of the grammar nearest to these words.

    Args:
        words: Lower case; ``[unk]`` stands for a word that an engine did not know. A call sign
            must stand there exactly; none is added.
        grammar: What may be said.
        thresholds: How like is like enough.
        most: How many sentences to give at most.

    Returns:
        Different sentences, the nearest first; none where nothing is near.
    """
    search = _Search(tuple(words), grammar, thresholds)
    found: list[Match] = []
    for match in search.run():
        if all(match.words != other.words for other in found):
            found.append(match)
        if len(found) >= most:
            break
    return tuple(found)


class _Search:
    """A shortest-path search over places in the text and states of the grammar."""

    def __init__(
        self, words: tuple[str, ...], grammar: CallGrammar, thresholds: Thresholds
    ) -> None:
        self.words = words
        self.grammar = grammar
        self.thresholds = thresholds
        self.opening = call_sign_length(words, grammar)
        carriers = sum(word not in EXACT_WORDS for word in words)
        self.budget = max(1.0, carriers) * thresholds.most_difference / 10

    def run(self) -> Iterator[Match]:
        """Yield matches, the nearest first; the same sentence may come again."""
        order = count()
        opening = self.words[: self.opening]
        start = self.grammar.walk(opening)
        if start is None:
            return
        nothing = Match(opening, 0.0, (), True)
        queue: list[_Entry] = [(0.0, next(order), len(opening), start, nothing)]
        reached: dict[tuple[int, int], int] = {}
        for _ in range(_MOST_STEPS):
            if not queue:
                return
            _, _, at, state, so_far = heapq.heappop(queue)
            if at == len(self.words) and self.grammar.is_final(state) and so_far.likely:
                yield so_far
            # A few ways to the same place are enough to tell close calls apart.
            reached[at, state] = reached.get((at, state), 0) + 1
            if reached[at, state] > 3:
                continue
            for step in self._steps(at, state):
                difference = so_far.difference + step.cost
                if difference <= self.budget:
                    changes = (*so_far.changes, *((step.change,) if step.change else ()))
                    match = Match(
                        (*so_far.words, *step.words),
                        difference,
                        changes,
                        so_far.sure and step.sure,
                        so_far.respelled or step.respelled,
                        so_far.kept + bool(step.taken and step.words and not step.other),
                        so_far.others + step.other,
                    )
                    heapq.heappush(
                        queue, (difference, next(order), at + step.taken, step.state, match)
                    )

    def _steps(self, at: int, state: int) -> Iterator[_Step]:
        arcs = self._carriers(state)
        if at < len(self.words):
            word = self.words[at]
            if word in arcs:
                yield _Step(0.0, 1, (word,), arcs[word])
            if self.grammar.is_final(state) and self._tail(at):
                tail = " ".join(self.words[at:])
                rest = len(self.words) - at
                yield _Step(_DROPPED_FILLER, rest, (), state, f"without '{tail}'")
            if at == self.opening:
                yield from self._opened(at, state)
            if self.words[at : at + 2] in _BY_DEGREES:
                degree = " ".join(self.words[at : at + 2])
                yield _Step(_DROPPED_FILLER, 2, (), state, f"without '{degree}'")
            if self._says_nothing(at):
                yield _Step(_DROPPED_FILLER, 1, (), state, f"without '{word}'")
            if word not in EXACT_WORDS:
                yield from self._changed(word, state)
                yield from self._joined(at, state)
        for word, target in arcs.items():
            if word in _ADDED_WORDS:
                small = word == "of"
                cost = _ADDED_OF if small else _ADDED
                yield _Step(cost, 0, (word,), target, f"added '{word}'", sure=small)

    def _tail(self, at: int) -> bool:
        """Whether only words follow that add nothing to the call before them."""
        asking = _ASKING.intersection(self.words[self.opening : self.opening + 1])
        return self.words[at:] in _TAILS and not (asking and self.words[at] in _OF_PLACE)

    def _opened(self, at: int, state: int) -> Iterator[_Step]:
        """Leave out the words that only announce a call."""
        for length in (1, 2, 3):
            words = self.words[at : at + length]
            after = self.words[at + length : at + length + 1]
            asks = words in _ASKING_FOR and bool(_OF_COMMANDS.intersection(after))
            if words in _ANNOUNCING or asks:
                change = f"without '{' '.join(words)}'"
                yield _Step(_DROPPED_FILLER, length, (), state, change)

    def _carriers(self, state: int) -> Mapping[str, int]:
        """What may come next, except the call sign, which is never guessed."""
        arcs = self.grammar.arcs(state)
        if state != self.grammar.start:
            return arcs
        return {
            word: target
            for word, target in arcs.items()
            if not call_sign_length((word,), self.grammar)
        }

    def _changed(self, word: str, state: int) -> Iterator[_Step]:
        """Another word in its place, or two that it runs together ("sparkplug")."""
        known = self.grammar.words
        if word == UNKNOWN or (word not in known and known.intersection(unturned(word))):
            return
        for other, target in self._carriers(state).items():
            if other in EXACT_WORDS or other == word:
                continue
            yield from self._taken_for(word, 1, (other,), target)
            # Letter for letter the same: nothing can be turned around by it ("notneeded").
            if word.startswith(other[:1]) and len(word) > len(other):
                for second, beyond in self.grammar.arcs(target).items():
                    if second not in EXACT_WORDS and other + second == word:
                        yield _Step(_JOINED, 1, (other, second), beyond, f"'{word}' in two words")

    def _joined(self, at: int, state: int) -> Iterator[_Step]:
        """Two words of the text that are one of the grammar ("fly wheel")."""
        if at + 1 < len(self.words) and not TURNING & set(self.words[at : at + 2]):
            joined = self.words[at] + self.words[at + 1]
            target = self._carriers(state).get(joined)
            if target is not None:
                yield _Step(_JOINED, 2, (joined,), target, f"'{joined}' in one word")

    def _taken_for(
        self, word: str, taken: int, others: tuple[str, ...], target: int
    ) -> Iterator[_Step]:
        likeness = spelled_alike(word, others[0])
        if likeness < self.thresholds.likeness:
            return
        known = word in self.grammar.words
        own = known or bool(pronunciations(word))
        if crosses(word, others[0], own=own) or self._other_number(word, others[0]):
            return
        cost = 1 - likeness + (_CHANGED_KNOWN if known else 0.0)
        # "Gearing" is very like "bearing", but it is a word of its own and may well be meant.
        slip = likeness >= self.thresholds.sure_likeness and not own
        change = f"'{word}' taken for '{others[0]}'"
        yield _Step(cost, taken, others, target, change, sure=slip, respelled=True, other=own)

    def _other_number(self, word: str, other: str) -> bool:
        """Whether one of them is plainly of one thing, and the other of several."""
        if other.endswith("s") and other[:-1] in self.grammar.words:
            return word[-1] == other[-2]
        return word.endswith("s") and f"{other}s" in self.grammar.words

    def _says_nothing(self, at: int) -> bool:
        """Whether the word at this place may be left out."""
        word = self.words[at]
        before = self.words[self.opening : at]
        if all(each in _OPENERS or each in FILLERS for each in before):
            return word in FILLERS or word in _OPENERS
        return word in FILLERS or word in _COPULAS or self._article(at)

    def _article(self, at: int) -> bool:
        """Whether this is an article before a name; before a unit or a figure it is a number."""
        return self.words[at] in ARTICLES and not EXACT_WORDS & {
            *self.words[at - 1 : at],
            *self.words[at + 1 : at + 2],
        }
