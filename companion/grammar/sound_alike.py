"""What a listener could take for something else.

Three searches, each blind to what the others find:

- ``homophone_sentences``: whole sentences of the same sounds ("for five minutes", "four five
  minutes"), found exactly, on the automaton.
- ``swapped_words``: two words so near that either could stand in the other's place in some
  sentence, found exactly, on the automaton.
- ``near_phrases``: phrases that fill the same slot, or carry two kinds of call, and are near once
  the words that they share are struck out; found by comparing every pair.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, product

from companion.grammar.automaton import WordAutomaton, every_sentence
from companion.grammar.compiled import CallGrammar
from companion.grammar.jsgf import (
    Alternatives,
    Expansion,
    Null,
    Optional,
    Reference,
    Repeat,
    Sequence,
    Tagged,
)
from companion.grammar.linking import LinkedRules, children
from companion.grammar.pronounce import Phonemes, distance, likeness, pronunciations
from companion.grammar.spoken import spoken_automaton

Words = tuple[str, ...]

NUMBER_TAGS = frozenset(["number", "count", "spelled"])
"""Tags whose words are a number, or spelled: read back digit by digit, or letter by letter."""


LEAST_LIKENESS = 0.7
"""Share of phonemes in which two words agree from which they are called near; chosen here so that
pairs of one rhyme (worn and torn, belt and bolt) are."""

LEAST_LIKENESS_OF_SHORT = 0.5
"""The same where they differ in one phoneme only (tine and tire, no and note)."""


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


@lru_cache(maxsize=1 << 16)
def _sounds(words: Words) -> tuple[Phonemes, ...]:
    """Every way to pronounce words one after the other."""
    return tuple(
        tuple(sound for word in way for sound in word)
        for way in product(*(pronunciations(word) for word in words))
    )


@lru_cache(maxsize=1 << 20)
def nearness(one: Words, other: Words) -> float | None:
    """How alike two phrases sound, 0 to 1, or None if they are not near."""
    near = [
        value
        for a, b in product(_sounds(one), _sounds(other))
        if _may_be_near(a, b)
        and (
            (value := likeness(a, b)) >= LEAST_LIKENESS
            or (value >= LEAST_LIKENESS_OF_SHORT and distance(a, b) == 1)
        )
    ]
    return max(near, default=None)


def _may_be_near(one: Phonemes, other: Phonemes) -> bool:
    """Whether their lengths and sounds leave room for it; counting is quicker than aligning."""
    longest = max(len(one), len(other))
    room = max(1.0, (1 - LEAST_LIKENESS) * longest)
    if abs(len(one) - len(other)) > room:
        return False
    apart = longest - sum((Counter(one) & Counter(other)).values())
    return apart <= room + 1e-9


def swapped_words(grammar: CallGrammar, among: Collection[str] | None = None) -> Iterator[Alike]:
    """Pairs of near words that can be swapped in some sentence and change what it means.

    Two words of a number are reported as that, wherever they stand.

    Args:
        grammar: To search.
        among: Only pairs with one of these words, none of which is of a number; None for all.
    """
    automaton = grammar.automaton
    number_words = _number_words(grammar.rules) if among is None else frozenset[str]()
    near: dict[str, list[tuple[str, float]]] = {}
    for one, other in combinations(sorted(grammar.words), 2):
        if among is not None and one not in among and other not in among:
            continue
        value = nearness((one,), (other,))
        if value is not None:
            near.setdefault(one, []).append((other, value))
    found: set[tuple[str, str]] = set()
    for state, before in shortest_ways(automaton).items():
        row = automaton.arcs[state]
        for one in row:
            for other, value in near.get(one, ()):
                if other not in row or (one, other) in found:
                    continue
                after = common_ending(automaton, row[one], row[other])
                if after is None:
                    continue
                sentence = (*before, one, *after)
                if _same_meaning(grammar, sentence, (*before, other, *after)):
                    continue
                found.add((one, other))
                numbers = {one, other} <= number_words
                yield Alike(one, other, value, " ".join(sentence), numbers)


def _same_meaning(grammar: CallGrammar, one: Words, other: Words) -> bool:
    """Whether the trees have the same tags and, where the words are the value, the same words."""

    def meanings(words: Words) -> set[tuple[tuple[str, str], ...]]:
        return {
            tuple(
                (node.key, node.value or ("" if node.children else parse.text(node)))
                for node in parse.walk()
            )
            for parse in grammar.parse(words)
        }

    return meanings(one) == meanings(other)


def _number_words(rules: LinkedRules) -> frozenset[str]:
    """Words that stand in numbers."""
    words: set[str] = set()
    for tagged in _tagged(rules):
        if not NUMBER_TAGS.isdisjoint(tagged.tags):
            inside = LinkedRules("number", {**rules.expansions, "number": tagged.item})
            words.update(*spoken_automaton(inside).arcs)
    return frozenset(words)


def shortest_ways(automaton: WordAutomaton) -> dict[int, Words]:
    """For each state, the shortest words that lead to it."""
    ways: dict[int, Words] = {0: ()}
    waiting = deque([0])
    while waiting:
        state = waiting.popleft()
        for word, target in automaton.arcs[state].items():
            if target not in ways:
                ways[target] = (*ways[state], word)
                waiting.append(target)
    return ways


def common_ending(automaton: WordAutomaton, one: int, other: int) -> Words | None:
    """Return the shortest words that end a sentence from both states, or None."""
    seen = {(one, other)}
    waiting: deque[tuple[int, int, Words]] = deque([(one, other, ())])
    while waiting:
        left, right, words = waiting.popleft()
        if left in automaton.finals and right in automaton.finals:
            return words
        for word, target in automaton.arcs[left].items():
            rival = automaton.arcs[right].get(word)
            if rival is not None and (target, rival) not in seen:
                seen.add((target, rival))
                waiting.append((target, rival, (*words, word)))
    return None


def homophone_sentences(automaton: WordAutomaton) -> Iterator[Alike]:
    """Different sentences of the same sounds, one for each pair of first differing words."""
    search = _HomophoneSearch(automaton)
    found: set[tuple[str, str]] = set()
    for state, before in shortest_ways(automaton).items():
        for one, other in combinations(search.next_words(state), 2):
            if (one.word, other.word) in found or one.word == other.word:
                continue
            pair = search.meet(one, other)
            if pair is not None:
                found |= {(one.word, other.word), (other.word, one.word)}
                yield Alike(" ".join(pair[0]), " ".join(pair[1]), 1.0, " ".join(before))


@dataclass(frozen=True, slots=True)
class _Spoken:
    """A word that may come next, in one pronunciation, and the state it leads to."""

    word: str
    sounds: Phonemes
    target: int


@dataclass(frozen=True, slots=True)
class _Reading:
    """One of two readings of the same sounds: where it stands, and what it has beyond the other."""

    state: int
    ahead: Phonemes


class _HomophoneSearch:
    """Follows two readings of the same sounds until both can end, or stand in one state."""

    def __init__(self, automaton: WordAutomaton) -> None:
        self.automaton = automaton
        self._next: dict[int, list[_Spoken]] = {}
        self._apart: set[tuple[_Reading, _Reading]] = set()

    def next_words(self, state: int) -> list[_Spoken]:
        if state not in self._next:
            self._next[state] = [
                _Spoken(word, sounds, target)
                for word, target in self.automaton.arcs[state].items()
                for sounds in pronunciations(word)
            ]
        return self._next[state]

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
            for spoken in self.next_words(right.state):
                pair = _level(left, _Reading(spoken.target, spoken.sounds))
                if pair is not None:
                    yield pair, (), (spoken.word,)
        else:
            for spoken in self.next_words(left.state):
                pair = _level(
                    _Reading(spoken.target, spoken.sounds), _Reading(right.state, right.ahead)
                )
                if pair is not None:
                    yield pair, (spoken.word,), ()


def _level(left: _Reading, right: _Reading) -> tuple[_Reading, _Reading] | None:
    """Strike out the sounds that both have; None if they differ before either ends."""
    short = min(len(left.ahead), len(right.ahead))
    if left.ahead[:short] != right.ahead[:short]:
        return None
    return _Reading(left.state, left.ahead[short:]), _Reading(right.state, right.ahead[short:])


def near_phrases(
    rules: LinkedRules, with_words: Words = (), keys: Collection[str] | None = None
) -> Iterator[Alike]:
    """Pairs of near phrases in one slot that do not mean the same.

    A slot is what one tag key stands for (``part``, ``fluid``, ``unit`` …); for ``intent`` it is
    the words that carry a call, less those that fill its slots.

    Args:
        rules: To search.
        with_words: Only pairs of which one holds these words, one after the other.
        keys: Only slots of these tag keys; None for all.
    """
    for key, meanings in _slots(rules, keys).items():
        held = [phrase for phrase in meanings if _holds(phrase, with_words)]
        pairs = (
            combinations(meanings, 2)
            if not with_words
            else ((one, other) for one in held for other in meanings if other not in held)
        )
        for one, other in pairs:
            if meanings[one] & meanings[other]:
                continue
            value = nearness(*_unshared(one, other))
            if value is not None:
                yield Alike(" ".join(one), " ".join(other), value, key)


def _holds(phrase: Words, inside: Words) -> bool:
    ends = range(len(inside), len(phrase) + 1)
    return any(phrase[end - len(inside) : end] == inside for end in ends)


def _unshared(one: Words, other: Words) -> tuple[Words, Words]:
    """Both without the words with which both begin, and those with which both end."""
    while one and other and one[0] == other[0]:
        one, other = one[1:], other[1:]
    while one and other and one[-1] == other[-1]:
        one, other = one[:-1], other[:-1]
    return one, other


def _slots(
    rules: LinkedRules, keys: Collection[str] | None = None
) -> Mapping[str, Mapping[Words, frozenset[str]]]:
    """For each tag key, the phrases that carry it, each with the values it may have."""
    slots: dict[str, dict[Words, frozenset[str]]] = {}
    for tagged in _tagged(rules):
        for tag in tagged.tags:
            key, equals, value = tag.partition("=")
            if not equals or (keys is not None and key not in keys):
                continue
            # It refers to no rule any more: what it referred to stands in it.
            carrier = LinkedRules("carrier", {"carrier": _less_slots(rules, tagged.item)})
            for words in every_sentence(spoken_automaton(carrier)):
                if words:
                    phrases = slots.setdefault(key, {})
                    phrases[words] = phrases.get(words, frozenset()) | {value}
    return slots


def _tagged(rules: LinkedRules) -> Iterator[Tagged]:
    waiting = list(rules.expansions.values())
    while waiting:
        expansion = waiting.pop()
        if isinstance(expansion, Tagged):
            yield expansion
        waiting += children(expansion)


def _less_slots(rules: LinkedRules, expansion: Expansion) -> Expansion:
    """The expansion with every tagged one inside it matched by silence."""
    match expansion:
        case Tagged():
            return Null()
        case Reference(name):
            return _less_slots(rules, rules.expansions[name])
        case Sequence(items):
            return Sequence(tuple(_less_slots(rules, item) for item in items))
        case Alternatives(choices, weights):
            return Alternatives(tuple(_less_slots(rules, item) for item in choices), weights)
        case Optional(item):
            return Optional(_less_slots(rules, item))
        case Repeat(item, _):
            # Once is enough to hear what is repeated.
            return Optional(_less_slots(rules, item))
        case _:
            return expansion
