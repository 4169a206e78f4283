"""What a listener could take for something else.

Three searches, each blind to what the others find:

- ``homophone_sentences``: whole sentences of the same sounds ("for five minutes", "four five
  minutes"), found exactly, on the automaton.
- ``swapped_words``: two words so near that either could stand in the other's place in some
  sentence, found exactly, on the automaton.
- ``near_phrases``: phrases that fill the same slot, or carry two kinds of call, and are near once
  the words that they share are struck out, found on the automaton of each slot.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Collection, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

from companion.grammar.ambiguity import Meaning, tags_and_words
from companion.grammar.automaton import WordAutomaton
from companion.grammar.carriers import ASKED, slots, synonyms_in, tagged_in
from companion.grammar.compiled import CallGrammar
from companion.grammar.linking import LinkedRules
from companion.grammar.near_pairs import near_pairs
from companion.grammar.near_phrases import near_phrases_of
from companion.grammar.nearness import HOLE, Words, nearness, parts_nearness
from companion.grammar.phrases import holds
from companion.grammar.pronounce import Phonemes, pronunciations
from companion.grammar.spoken import spoken_automaton

NUMBER_TAGS = frozenset(["number", "count", "spelled"])
"""Tags whose words are a number, or spelled: read back digit by digit, or letter by letter."""


@dataclass(frozen=True, slots=True)
class Alike:
    """Two things that could be taken for one another.

    Attributes:
        one: Words.
        other: Words.
        likeness: Share of phonemes in which they agree, 0 to 1.
        where: The slot for which they compete, or a sentence with the first of them.
        numbers: Whether they differ in a number only, which is read back digit by digit.
    """

    one: str
    other: str
    likeness: float
    where: str
    numbers: bool = False


def swapped_words(
    grammar: CallGrammar,
    meaning: Meaning = tags_and_words,
    among: Collection[str] | None = None,
) -> Iterator[Alike]:
    """Pairs of near words that can be swapped in some sentence and change what it means.

    Two words of a number are reported as that, wherever they stand.

    Args:
        grammar: What may be said.
        meaning: What a tree means.
        among: Only pairs with one of these words, none of which is of a number; None for all.
    """
    automaton = grammar.automaton
    number_words = _number_words(grammar.rules) if among is None else frozenset[str]()
    near: dict[str, list[tuple[str, float]]] = {}
    for (one,), (other,) in near_pairs((word,) for word in grammar.words):
        if among is not None and one not in among and other not in among:
            continue
        value = nearness((one,), (other,))
        assert value is not None
        near.setdefault(one, []).append((other, value))
    endings = Endings(automaton)
    found: set[tuple[str, str]] = set()
    alike: set[Hashable] = set()
    synonyms = synonyms_in(grammar.rules)
    for state, before in shortest_ways(automaton).items():
        row = automaton.arcs[state]
        for one in near.keys() & row.keys():
            for other, value in near[one]:
                if (
                    other not in row
                    or (one, other) in found
                    or synonyms.get(one, one) == synonyms.get(other)
                ):
                    continue
                # "Quart" and "quarts" mean the same in a thousand places: one look at each pair of
                # neighboring words is enough.
                place = one, other, row[one], row[other], before[:1], before[-1:]
                if place in alike:
                    continue
                after = endings.common(row[one], row[other])
                if after is None:
                    continue
                sentence = (*before, one, *after)
                if _same_meaning(grammar, meaning, sentence, (*before, other, *after)):
                    alike.add(place)
                    continue
                found.add((one, other))
                numbers = {one, other} <= number_words
                yield Alike(one, other, value, " ".join(sentence), numbers)


def _same_meaning(grammar: CallGrammar, meaning: Meaning, one: Words, other: Words) -> bool:
    """Whether two sentences mean the same, or are always told apart by a question."""
    trees = grammar.parse(one), grammar.parse(other)
    if all(parses and all(parse.first(ASKED) for parse in parses) for parses in trees):
        return True
    return {meaning(parse) for parse in trees[0]} == {meaning(parse) for parse in trees[1]}


def near_phrases(grammar: CallGrammar) -> Iterator[Alike]:
    """Pairs of near phrases in one slot that do not mean the same.

    A slot is what one tag key stands for (``part``, ``fluid``, ``unit`` …); for ``intent`` it is
    the words that carry a call, with a place for each slot in it: carriers with other slots, or
    with the same in another order, are not compared.
    """
    for key, phrases in slots(grammar.rules).items():
        for one, _other, parts in near_phrases_of(phrases):
            if len(parts) == 1 and len(parts[0][0]) == len(parts[0][1]) == 1:
                # Of these ``swapped_words`` finds those that meet in a sentence.
                continue
            said, rival = (" … ".join(" ".join(part[at]) for part in parts) for at in (0, 1))
            where = " ".join(word.replace(HOLE, "… ").replace(">", "") for word in one)
            yield Alike(said, rival, parts_nearness(parts) or 0.0, f"{key}: {where}")


def _number_words(rules: LinkedRules) -> frozenset[str]:
    """Words that stand in numbers."""
    words: set[str] = set()
    for tagged in tagged_in(rules):
        if not NUMBER_TAGS.isdisjoint(tagged.tags):
            inside = LinkedRules("number", {**rules.expansions, "number": tagged.item})
            words.update(*spoken_automaton(inside).arcs)
    return frozenset(words)


def near_to(
    rules: LinkedRules, with_words: Words, keys: Collection[str]
) -> Iterator[tuple[Words, Words]]:
    """Pairs of near phrases in one slot that do not mean the same, where the first holds given
    words.

    Args:
        rules: To search.
        with_words: What the first of each pair holds, one after the other.
        keys: Slots that are looked at.
    """
    for phrases in slots(rules, keys).values():
        for one in (phrase for phrase in phrases if holds(phrase, with_words)):
            for other, meant in phrases.items():
                if meant & phrases[one] or holds(other, with_words):
                    continue
                if nearness(*_unshared(one, other)) is not None:
                    yield one, other


def _unshared(one: Words, other: Words) -> tuple[Words, Words]:
    """Both without the words with which both begin, and those with which both end."""
    while one and other and one[0] == other[0]:
        one, other = one[1:], other[1:]
    while one and other and one[-1] == other[-1]:
        one, other = one[:-1], other[:-1]
    return one, other


def shortest_ways(automaton: WordAutomaton) -> dict[int, Words]:
    """Return the shortest words that lead to each state of an automaton."""
    ways: dict[int, Words] = {0: ()}
    waiting = deque([0])
    while waiting:
        state = waiting.popleft()
        for word, target in automaton.arcs[state].items():
            if target not in ways:
                ways[target] = (*ways[state], word)
                waiting.append(target)
    return ways


class Endings:
    """Finds words that end a sentence from two states; remembers the pairs that have none."""

    def __init__(self, automaton: WordAutomaton) -> None:
        self.automaton = automaton
        self._none: set[tuple[int, int]] = set()

    def common(self, one: int, other: int) -> Words | None:
        """Shortest words that end a sentence from both states, or None."""
        arcs, finals = self.automaton.arcs, self.automaton.finals
        seen = {(one, other)}
        if (one, other) in self._none:
            return None
        waiting: deque[tuple[int, int, Words]] = deque([(one, other, ())])
        while waiting:
            left, right, words = waiting.popleft()
            if left in finals and right in finals:
                return words
            rivals = arcs[right]
            for word, target in arcs[left].items():
                rival = rivals.get(word)
                if rival is None or (target, rival) in seen or (target, rival) in self._none:
                    continue
                seen.add((target, rival))
                waiting.append((target, rival, (*words, word)))
        # Nothing reached from here ends in both, so no later search need look at it again.
        self._none |= seen
        return None


def homophone_sentences(grammar: CallGrammar, meaning: Meaning = tags_and_words) -> Iterator[Alike]:
    """Different sentences of the same sounds, one for each pair of first differing words.

    Args:
        grammar: What may be said.
        meaning: What a tree means.
    """
    automaton = grammar.automaton
    search = _HomophoneSearch(automaton)
    endings = Endings(automaton)
    found: set[tuple[str, str]] = set()
    for state, before in shortest_ways(automaton).items():
        for one, other in search.of_one_sound(state):
            if (one.word, other.word) in found:
                continue
            pair = search.meet(one, other)
            if pair is None:
                continue
            ends = [grammar.walk(words, state) for words in pair]
            assert ends[0] is not None
            assert ends[1] is not None
            after = endings.common(ends[0], ends[1]) or ()
            sentences = [(*before, *words, *after) for words in pair]
            if not _same_meaning(grammar, meaning, *sentences):
                found |= {(one.word, other.word), (other.word, one.word)}
                yield Alike(" ".join(pair[0]), " ".join(pair[1]), 1.0, " ".join(sentences[0]))


class _Spoken(NamedTuple):
    """A word that may come next, in one pronunciation, and the state it leads to."""

    word: str
    sounds: Phonemes
    target: int


class _Reading(NamedTuple):
    """One of two readings of the same sounds: where it stands, and what it has beyond the other."""

    state: int
    ahead: Phonemes


class _HomophoneSearch:
    """Follows two readings of the same sounds until both can end, or stand in one state."""

    def __init__(self, automaton: WordAutomaton) -> None:
        self.automaton = automaton
        self._next: dict[int, list[_Spoken]] = {}
        self._next_by_sound: dict[int, dict[str, list[_Spoken]]] = {}
        self._apart: set[tuple[_Reading, _Reading]] = set()
        self._rivals = _rivals(sorted(frozenset().union(*automaton.arcs)))

    def next_words(self, state: int) -> list[_Spoken]:
        if state not in self._next:
            self._next[state] = [
                _Spoken(word, sounds, target)
                for word, target in self.automaton.arcs[state].items()
                for sounds in pronunciations(word)
            ]
        return self._next[state]

    def of_one_sound(self, state: int) -> Iterator[tuple[_Spoken, _Spoken]]:
        """Different words that may come next, the first of which is how the other begins."""
        arcs = self.automaton.arcs[state]
        for word in arcs:
            for rival, theirs, own in self._rivals.get(word, ()):
                if rival in arcs:
                    yield _Spoken(rival, theirs, arcs[rival]), _Spoken(word, own, arcs[word])

    def meet(self, one: _Spoken, other: _Spoken) -> tuple[Words, Words] | None:
        """Shortest words that begin with these two and sound the same, or None."""
        pair = _level(_Reading(one.target, one.sounds), _Reading(other.target, other.sounds))
        if pair is None or pair in self._apart:
            return None
        seen = {pair}
        waiting: deque[tuple[tuple[_Reading, _Reading], Words, Words]] = deque()
        waiting.append((pair, (one.word,), (other.word,)))
        while waiting:
            (left, right), left_words, right_words = waiting.popleft()
            if not left.ahead and not right.ahead and self._met(left.state, right.state):
                return left_words, right_words
            for next_pair, left_word, right_word in self._follow(left, right):
                if next_pair not in seen and next_pair not in self._apart:
                    seen.add(next_pair)
                    words = ((*left_words, *left_word), (*right_words, *right_word))
                    waiting.append((next_pair, *words))
        # Nothing reached from here ever meets, so no later search need look at it again.
        self._apart |= seen
        return None

    def _met(self, left: int, right: int) -> bool:
        return left == right or {left, right} <= self.automaton.finals

    def _follow(
        self, left: _Reading, right: _Reading
    ) -> Iterator[tuple[tuple[_Reading, _Reading], Words, Words]]:
        """Let the reading that is behind say one word more."""
        if left.ahead:
            for spoken in self._going_on(right.state, left.ahead):
                pair = _level(left, _Reading(spoken.target, spoken.sounds))
                if pair is not None:
                    yield pair, (), (spoken.word,)
        else:
            for spoken in self._going_on(left.state, right.ahead):
                pair = _level(
                    _Reading(spoken.target, spoken.sounds), _Reading(right.state, right.ahead)
                )
                if pair is not None:
                    yield pair, (spoken.word,), ()

    def _going_on(self, state: int, ahead: Phonemes) -> Sequence[_Spoken]:
        """Words that may come next and begin with the first of these sounds, if there are any."""
        if not ahead:
            return self.next_words(state)
        by_sound = self._next_by_sound.get(state)
        if by_sound is None:
            by_sound = self._next_by_sound[state] = {}
            for spoken in self.next_words(state):
                by_sound.setdefault(spoken.sounds[0], []).append(spoken)
        return by_sound.get(ahead[0], ())


def _rivals(words: Sequence[str]) -> Mapping[str, list[tuple[str, Phonemes, Phonemes]]]:
    """For each word, the others that are how it begins, with how they and it are pronounced."""
    by_sounds: dict[Phonemes, list[str]] = {}
    found: dict[str, list[tuple[str, Phonemes, Phonemes]]] = {}
    for word in words:
        for sounds in pronunciations(word):
            by_sounds.setdefault(sounds, []).append(word)
    for word in words:
        for sounds in pronunciations(word):
            for beginning in _beginnings(sounds):
                for rival in by_sounds.get(beginning, ()):
                    if rival != word:
                        found.setdefault(word, []).append((rival, beginning, sounds))
    return found


@cache
def _beginnings(sounds: Phonemes) -> tuple[Phonemes, ...]:
    return tuple(sounds[:length] for length in range(1, len(sounds) + 1))


def _level(left: _Reading, right: _Reading) -> tuple[_Reading, _Reading] | None:
    """Strike out the sounds that both have; None if they differ before either ends."""
    if left.ahead and right.ahead and left.ahead[0] != right.ahead[0]:
        return None
    short = min(len(left.ahead), len(right.ahead))
    if left.ahead[:short] != right.ahead[:short]:
        return None
    return _Reading(left.state, left.ahead[short:]), _Reading(right.state, right.ahead[short:])
