"""Words to tagged trees, by following the rules from word to word."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from companion.grammar.automaton import CLOSE, Close, Open
from companion.grammar.jsgf import (
    Alternatives,
    Expansion,
    Null,
    Optional,
    Reference,
    Repeat,
    Tagged,
    Void,
    Word,
)
from companion.grammar.jsgf import Sequence as InSequence
from companion.grammar.linking import LinkedRules
from companion.grammar.parse_tree import Node, Parse
from companion.grammar.spoken import SpokenStates
from companion.grammar.traits import Traits

_Marks = tuple[Open | Close, ...]

_Way = tuple[tuple[int, Open | Close], ...]
"""The marks met up to the end of the sentence, each with how many words stand before it."""

_END = 0
"""The place where a sentence ends."""

_What = Expansion | int | Close | None
"""What may be said from a place: an expansion, what follows a state of ``SpokenStates``, the end of
a tagged expansion, or nothing."""


def parse_words(rules: LinkedRules, words: Sequence[str]) -> tuple[Parse, ...]:
    """Parse one sentence; ``Parser`` is quicker for many of the same rules."""
    return Parser(rules).parse(words)


class Parser:
    """Parses sentences of one grammar.

    A place is an expansion and what comes after it. Only the places that a sentence leads to are
    ever made, and what may follow them is worked out once for each word.
    """

    def __init__(self, rules: LinkedRules) -> None:
        self._expansions = rules.expansions
        self._traits = Traits(rules)
        # Expansions without tags: spoken numbers stand in dozens of places; their rules overlap,
        # their automaton does not.
        self._spoken = SpokenStates(rules.expansions)
        self._places: list[tuple[_What, int]] = [(None, _END)]
        self._numbers: dict[tuple[int, int], int] = {}
        self._openings = _Openings(self._traits)
        # The expansion is kept beside what is known of it: were it freed, another one could get its
        # id.
        self._untagged: dict[int, tuple[Expansion, int | None, bool]] = {}
        self._repeated: dict[int, tuple[Repeat, Expansion, Repeat]] = {}
        self._steps: dict[tuple[int, str | None], tuple[tuple[_Marks, int], ...]] = {}
        self._start = self._place(rules.expansions[rules.top], _END)

    def parse(self, words: Sequence[str]) -> tuple[Parse, ...]:
        """Every distinct tagged tree of a whole sentence; empty if it is no sentence.

        Two ways through the rules that meet the same tags at the same words are one tree. Several
        tags on one expansion become nodes side by side over the same words; the first holds what is
        inside.
        """
        sentence = tuple(words)
        rows: list[list[tuple[int, tuple[tuple[_Marks, int], ...]]]] = []
        here = {self._start}
        for word in sentence:
            row = [(place, steps) for place in here if (steps := self._after(place, word))]
            rows.append(row)
            here = {target for _, steps in row for _, target in steps}
        # From the last word back, by the places from which the end is reached. A dictionary for
        # its order: the same sentence gives its trees in the same order every time.
        end = len(sentence)
        ways: dict[int, dict[_Way, None]] = {
            place: dict.fromkeys(_at(end, marks) for marks, _ in steps)
            for place in here
            if (steps := self._after(place, None))
        }
        for position in reversed(range(end)):
            before: dict[int, dict[_Way, None]] = {}
            for place, steps in rows[position]:
                found: dict[_Way, None] = {}
                for marks, target in steps:
                    rests = ways.get(target)
                    if rests is None:
                        continue
                    if marks:
                        met = _at(position, marks)
                        found.update((met + rest, None) for rest in rests)
                    else:
                        found.update(rests)
                if found:
                    before[place] = found
            ways = before
        return tuple(Parse(sentence, _nodes(way)) for way in ways.get(self._start, ()))

    def _place(self, what: _What, then: int) -> int:
        if isinstance(what, Null):
            return then
        key = (-1 - what, then) if isinstance(what, int) else (id(what), then)
        number = self._numbers.get(key)
        if number is None:
            self._places.append((what, then))
            number = self._numbers[key] = len(self._places) - 1
        return number

    def _after(self, place: int, word: str | None) -> tuple[tuple[_Marks, int], ...]:
        """The marks met before a word and the place after it; for None, before the end."""
        key = place, word
        steps = self._steps.get(key)
        if steps is None:
            steps = self._steps[key] = tuple(dict.fromkeys(self._follow(place, word)))
        return steps

    def _follow(self, place: int, word: str | None) -> Iterator[tuple[_Marks, int]]:
        what, then = self._places[place]
        if what is None:
            if word is None:
                yield (), place
            return
        if isinstance(what, Expansion) and self._without_tags(what):
            state = self._untagged[id(what)][1]
            if state is not None:
                yield from self._follow(self._place(state, then), word)
            return
        match what:
            case int():
                target = None if word is None else self._spoken.arcs[what].get(word)
                if target is not None:
                    yield (), self._place(target, then)
                if what in self._spoken.finals:
                    yield from self._follow(then, word)
            case Close():
                yield from self._marked(CLOSE, then, word)
            case Word(text):
                if text == word:
                    yield (), then
            case Null() | Void():
                pass
            case Reference(name):
                yield from self._follow(self._place(self._expansions[name], then), word)
            case InSequence(items):
                for item in reversed(items):
                    then = self._place(item, then)
                yield from self._follow(then, word)
            case Alternatives():
                for choice in self._openings.choices(what, word):
                    yield from self._follow(self._place(choice, then), word)
            case Optional(item):
                yield from self._follow(self._place(item, then), word)
                yield from self._follow(then, word)
            case Tagged(item, tags):
                inside = self._place(item, self._place(CLOSE, then))
                yield from self._marked(Open(tags), inside, word)
            case Repeat(item, at_least_once):
                _, again, any_number = self._repeat(what)
                if at_least_once:
                    loop = self._place(item, self._place(any_number, then))
                    yield from self._follow(loop, word)
                else:
                    yield from self._follow(then, word)
                    yield from self._follow(self._place(again, place), word)

    def _marked(
        self, mark: Open | Close, place: int, word: str | None
    ) -> Iterator[tuple[_Marks, int]]:
        for marks, target in self._follow(place, word):
            yield (mark, *marks), target

    def _without_tags(self, expansion: Expansion) -> bool:
        """Whether rules stand in an expansion, but no tags; if so, its automaton is made."""
        known = self._untagged.get(id(expansion))
        if known is None:
            untagged = self._traits.refers_without_tags(expansion)
            state = self._spoken.build(expansion) if untagged else None
            known = self._untagged[id(expansion)] = expansion, state, untagged
        return known[2]

    def _repeat(self, repeat: Repeat) -> tuple[Repeat, Expansion, Repeat]:
        """A repetition as the repeated expansion followed by any number of further rounds."""
        known = self._repeated.get(id(repeat))
        if known is None:
            # Said again means said with words: a silent round would make endless parses.
            again = self._traits.with_words(repeat.item)
            star = Repeat(repeat.item, at_least_once=False) if repeat.at_least_once else repeat
            known = self._repeated[id(repeat)] = repeat, again, star
        return known


class _Openings:
    """Which alternatives may begin with a word."""

    def __init__(self, traits: Traits) -> None:
        self._traits = traits
        self._rules: dict[str, frozenset[str]] = {}
        self._known: dict[int, tuple[Alternatives, dict[str | None, list[Expansion]]]] = {}

    def choices(self, expansion: Alternatives, word: str | None) -> Sequence[Expansion]:
        """The choices that may begin with this word, and those that may be silent, in order."""
        known = self._known.get(id(expansion))
        if known is None:
            known = self._known[id(expansion)] = expansion, self._by_word(expansion)
        return known[1].get(word, known[1][None])

    def _by_word(self, expansion: Alternatives) -> dict[str | None, list[Expansion]]:
        begins = [self._first_words(choice) for choice in expansion.choices]
        silent = [self._traits.may_be_silent(choice) for choice in expansion.choices]
        every = frozenset[str]().union(*begins)
        found: dict[str | None, list[Expansion]] = {None: [], **{word: [] for word in every}}
        for choice, words, is_silent in zip(expansion.choices, begins, silent, strict=True):
            for place in found.values() if is_silent else (found[word] for word in words):
                place.append(choice)
        return found

    def _first_words(self, expansion: Expansion) -> frozenset[str]:
        match expansion:
            case Word(text):
                return frozenset((text,))
            case Null() | Void():
                return frozenset()
            case Reference(name):
                if name not in self._rules:
                    self._rules[name] = self._first_words(self._traits.expansions[name])
                return self._rules[name]
            case Alternatives(choices, _):
                return frozenset[str]().union(*map(self._first_words, choices))
            case InSequence(items):
                words = frozenset[str]()
                for item in items:
                    words |= self._first_words(item)
                    if not self._traits.may_be_silent(item):
                        break
                return words
            case Optional(item) | Tagged(item, _) | Repeat(item, _):
                return self._first_words(item)


def _at(position: int, marks: _Marks) -> _Way:
    return tuple((position, mark) for mark in marks)


def _nodes(way: _Way) -> tuple[Node, ...]:
    top: list[Node] = []
    opened: list[tuple[tuple[str, ...], int, list[Node]]] = []
    for position, mark in way:
        if isinstance(mark, Open):
            opened.append((mark.tags, position, []))
            continue
        tags, start, inside = opened.pop()
        around = opened[-1][2] if opened else top
        for number, tag in enumerate(tags):
            key, equals, value = tag.partition("=")
            around.append(
                Node(
                    key.strip(),
                    value.strip() if equals else None,
                    start,
                    position,
                    tuple(inside) if number == 0 else (),
                )
            )
    return tuple(top)
