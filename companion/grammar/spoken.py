"""Rules compiled straight to the automaton of their words, tags left out.

Every state is built after those that it leads to, and two states from which the same can be said
are one from the start. So each rule is made deterministic and minimal once, and joining it to what
follows costs only where two ways begin with the same words.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import TypeVar

from companion.files.limits import MOST_LOOPING, MOST_SPOKEN
from companion.grammar.automaton import WordAutomaton, canonical, split_looping
from companion.grammar.jsgf import (
    Alternatives,
    Expansion,
    GrammarTooLarge,
    Null,
    Optional,
    Reference,
    Repeat,
    Sequence,
    Tagged,
    Void,
    Word,
)
from companion.grammar.linking import LinkedRules

SAYS_TOO_MUCH = (
    "the grammar can say more than can be compiled; write fewer choices one after the other, and "
    "less that is repeated with * or +."
)
END = 0
"""Number of the state in which a sentence ends and nothing can follow."""

_Ways = tuple[int | None, int | None]
"""A place in what is said first, and a place in what follows it."""
_Several = TypeVar("_Several")


def spoken_automaton(rules: LinkedRules) -> WordAutomaton:
    """Compile all sentences of the top rule."""
    return SpokenStates(rules.expansions).automaton(rules.expansions[rules.top])


class SpokenStates:
    """States of deterministic automata, shared by all rules.

    Args:
        expansions: The rules, by full name.

    Attributes:
        arcs: For each state, the words that may come next, each with the state it leads to.
        finals: States in which a sentence may end.
    """

    def __init__(self, expansions: Mapping[str, Expansion]) -> None:
        self.arcs: list[dict[str, int]] = [{}]
        self.finals = {END}
        self._expansions = expansions
        self._rules: dict[str, int | None] = {}
        # On or before a loop.
        self._looping: set[int] = set()
        # Kept by hash: comparing so many arcs whole would cost more time than everything else.
        self._numbers = {hash((True, frozenset[tuple[str, int]]())): END}
        self._joined: dict[frozenset[int], int] = {}
        self._followed: dict[tuple[int, int], int] = {}
        self._reached: dict[int, list[int]] = {}

    def automaton(self, expansion: Expansion) -> WordAutomaton:
        """The deterministic, minimal automaton of what an expansion says."""
        start = self.build(expansion)
        if start is None:
            return WordAutomaton(({},), frozenset())
        return canonical(self.arcs, self.finals, start)

    def rule(self, name: str) -> int | None:
        """State before the first word of a rule; None if it cannot be said."""
        if name not in self._rules:
            self._rules[name] = self.build(self._expansions[name])
        return self._rules[name]

    def build(self, expansion: Expansion, then: int = END) -> int | None:
        """State from which ``expansion`` and then ``then`` follow; None if it cannot be said."""
        match expansion:
            case Word(text):
                return self._state({text: then})
            case Null():
                return then
            case Void():
                return None
            case Reference(name):
                start = self.rule(name)
                return None if start is None else self._follow(start, then)
            case Sequence(items):
                following: int | None = then
                for item in reversed(items):
                    if following is None:
                        return None
                    following = self.build(item, following)
                return following
            case Alternatives(choices, _):
                return self._join_any(self.build(choice, then) for choice in choices)
            case Optional(item):
                return self._join_any((self.build(item, then), then))
            case Tagged(item, _):
                return self.build(item, then)
            case Repeat(item, at_least_once):
                start = self.build(item)
                if start is None:
                    return None if at_least_once else then
                if not self.arcs[start]:
                    return then
                return self._loop(start, then, again=True, skip=not at_least_once)

    def _state(self, arcs: dict[str, int], *, final: bool = False) -> int:
        place = self._place(arcs, final)
        number = self._numbers.get(place)
        if number is None:
            number = self._numbers[place] = self._add(arcs, final)
            if not self._looping.isdisjoint(arcs.values()):
                self._looping.add(number)
        return number

    def _place(self, arcs: dict[str, int], final: bool) -> int:
        """Where in ``_numbers`` the state with these arcs stands, or would stand."""
        place = hash((final, frozenset(arcs.items())))
        while (number := self._numbers.get(place)) is not None and (
            self.arcs[number] != arcs or (number in self.finals) != final
        ):
            place += 1
        return place

    def _add(self, arcs: dict[str, int], final: bool) -> int:
        if len(self.arcs) > MOST_SPOKEN or len(self._joined) > MOST_SPOKEN:
            raise GrammarTooLarge(SAYS_TOO_MUCH)
        self.arcs.append(arcs)
        number = len(self.arcs) - 1
        if final:
            self.finals.add(number)
        return number

    def _join_any(self, entries: Iterable[int | None]) -> int | None:
        states = frozenset(entry for entry in entries if entry is not None)
        return self._join(states) if states else None

    def _join(self, states: frozenset[int]) -> int:
        """State from which all can be said that can be said from any of these."""
        joined = self._joined
        begun: dict[frozenset[int], tuple[dict[str, int], dict[str, frozenset[int]]]] = {}
        waiting = [states]
        while waiting:
            some = waiting[-1]
            if len(some) == 1 or some in joined:
                waiting.pop()
            elif not self._looping.isdisjoint(some):
                self._join_looping(some)
            elif some in begun:
                arcs, several = begun.pop(some)
                for word, targets in several.items():
                    arcs[word] = joined[targets]
                joined[some] = self._state(arcs, final=not self.finals.isdisjoint(some))
            else:
                begun[some] = self._together(some)
                waiting += (each for each in begun[some][1].values() if each not in joined)
        return next(iter(states)) if len(states) == 1 else joined[states]

    def _together(self, states: Iterable[int]) -> tuple[dict[str, int], dict[str, frozenset[int]]]:
        """Arcs of several states: words with one target, and words with more than one."""
        arcs: dict[str, int] = {}
        several: dict[str, set[int]] = {}
        for state in states:
            more = self.arcs[state]
            for word in arcs.keys() & more.keys():
                if arcs[word] != more[word]:
                    several.setdefault(word, {arcs[word]}).add(more[word])
            arcs.update(more)
        return arcs, {word: frozenset(targets) for word, targets in several.items()}

    def _follow(self, start: int, then: int) -> int:
        """State from which what ``start`` says and then ``then`` follow."""
        if then == END:
            return start
        if start in self._looping:
            return self._loop(start, then, again=False)
        followed = self._followed
        for state in self._reached_from(start):
            if (state, then) in followed:
                continue
            if state == END:
                followed[state, then] = then
                continue
            number = self._state(
                {word: followed[target, then] for word, target in self.arcs[state].items()}
            )
            if state in self.finals:
                number = self._join(frozenset((number, then)))
            followed[state, then] = number
        return followed[start, then]

    def _reached_from(self, start: int) -> list[int]:
        """States reached from this one, itself among them; each after those that it leads to,
        unless there is a loop."""
        reached = self._reached.get(start)
        if reached is None:
            seen = {start}
            waiting = [start]
            while waiting:
                new = set(self.arcs[waiting.pop()].values()) - seen
                seen |= new
                waiting += new
            # Without a loop a state has a higher number than those that it leads to.
            reached = self._reached[start] = sorted(seen)
        return reached

    def _join_looping(self, states: frozenset[int]) -> None:
        """Join states of which one or more loop."""

        def made(some: frozenset[int]) -> int | None:
            if len(some) == 1:
                return next(iter(some))
            return self._join(some) if self._looping.isdisjoint(some) else self._joined.get(some)

        def arcs(some: frozenset[int]) -> dict[str, frozenset[int]]:
            single, several = self._together(some)
            return {word: frozenset((target,)) for word, target in single.items()} | several

        def final(some: frozenset[int]) -> bool:
            return not self.finals.isdisjoint(some)

        # Nothing else can be joined to them before all of them are finished.
        self._joined.update(self._weave(states, made, arcs, final))

    def _loop(self, start: int, then: int, *, again: bool, skip: bool = False) -> int:
        """State from which what ``start`` says and then ``then`` follow, where there is a loop.

        Args:
            start: What is said first.
            then: What follows.
            again: Whether what ``start`` says may be said once more before that.
            skip: Whether ``then`` may follow at once.
        """

        def ways(inside: int | None, after: int | None) -> _Ways:
            if inside is not None and inside in self.finals:
                after = then if after is None else self._join(frozenset((after, then)))
                inside = self._join(frozenset((inside, start))) if again else inside
            if inside is not None and not again and inside not in self._looping:
                # States with no loop ahead are joined to what follows in the usual way.
                followed = self._follow(inside, then)
                after = followed if after is None else self._join(frozenset((after, followed)))
                inside = None
            return inside, after

        def arcs(state: _Ways) -> dict[str, _Ways]:
            inside, after = ({} if one is None else self.arcs[one] for one in state)
            return {word: ways(inside.get(word), after.get(word)) for word in {**inside, **after}}

        begin = ways(start, then if skip else None)
        woven = self._weave(
            begin,
            lambda state: state[1] if state[0] is None else None,
            arcs,
            lambda state: state[1] in self.finals,
        )
        return woven[begin]

    def _weave(
        self,
        begin: _Several,
        made: Callable[[_Several], int | None],
        arcs: Callable[[_Several], Mapping[str, _Several]],
        final: Callable[[_Several], bool],
    ) -> dict[_Several, int]:
        """Subset construction for all that loops: the states made, one of them for ``begin``.

        Args:
            begin: Where to begin.
            made: The one state that stands for several, if there is one already.
            arcs: Where words lead from several states.
            final: Whether a sentence may end in one of several states.
        """
        woven: dict[_Several, int] = {}
        waiting: list[_Several] = []

        def number_of(several: _Several) -> int:
            number = made(several)
            if number is None:
                number = woven.get(several)
            if number is None:
                number = woven[several] = self._add({}, final(several))
                waiting.append(several)
            return number

        number_of(begin)
        while waiting:
            several = waiting.pop()
            row = {word: number_of(target) for word, target in arcs(several).items()}
            self.arcs[woven[several]].update(row)
        same = self._merge_loops(list(woven.values()))
        return {several: same[number] for several, number in woven.items()}

    def _merge_loops(self, woven: list[int]) -> dict[int, int]:
        """Merge new states in loops with equal ones, from which the same can be said; return for
        each the one that stays."""
        looping = [*self._looping, *woven]
        if len(looping) > MOST_LOOPING:
            raise GrammarTooLarge(SAYS_TOO_MUCH)
        first = len(self.arcs)
        kinds = {target: target for state in looping for target in self.arcs[state].values()}
        kinds.update((state, first + (state in self.finals)) for state in looping)
        split_looping(self.arcs, looping, kinds, first + 2)
        stays: dict[int, int] = {}
        same = {state: stays.setdefault(kinds[state], state) for state in looping}
        for state in woven:
            if same[state] == state:
                self.arcs[state] = arcs = {
                    word: same.get(target, target) for word, target in self.arcs[state].items()
                }
                self._looping.add(state)
                self._numbers[self._place(arcs, state in self.finals)] = state
        return same
