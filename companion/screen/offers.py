"""What may follow the words typed so far, from the grammar that is active: plain calls first, whole
names of the job's parts and measures; never a figure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache, reduce

from companion.grammar.compiled import CallGrammar
from companion.grammar.phrases import Words
from companion.intent.match import UNIT_WORDS
from companion.intent.numbers import NUMBER_WORDS
from companion.intent.plain_calls import frames_of, names_of
from companion.intent.text import respelled, typed_words
from companion.intent.unit_needed import units_after

A_NUMBER = "two"
"""Stands for any figure in the question which units may follow one."""
_LITTLE_WORDS = frozenset({"a", "an", "the", "my", "of", "and"})
"""Not offered by themselves: they say nothing about what may come. Contractions ("we'll") are not
offered either, unless a plain call has them: they are spelled out before a call is read."""
_LONGEST_CHAIN = 4


@dataclass(frozen=True, slots=True)
class Offers:
    """What may be typed next.

    Attributes:
        begun: The word begun, as typed; what is offered stands in its place.
        texts: What may stand there, plain forms first, with a space where more must follow; none
            where only a figure can.
        units: Where a figure comes next, or has begun: what it may be called in, the usual unit
            first.
    """

    begun: str = ""
    texts: tuple[str, ...] = ()
    units: tuple[str, ...] = ()


NOTHING = Offers()


def offers(
    text: str,
    grammar: CallGrammar,
    awaited: frozenset[str] = frozenset(),
    usual_units: Mapping[str, str] | None = None,
) -> Offers:
    """Work out what may follow.

    Args:
        text: What stands before the cursor.
        grammar: The active one.
        awaited: Measures and parts that the current step waits for; they are offered first.
        usual_units: By measure, the unit that the sheet has it in.
    """
    begun = "" if not text or text[-1].isspace() else text.split()[-1]
    before = text[: len(text) - len(begun)]
    ways = (way for typed in typed_words(before) for way in respelled(typed, grammar.words))
    for typed in ways:
        state = grammar.walk(typed)
        if state is None:
            continue
        words = typed[len(grammar.call_sign) :] if _called(typed, grammar) else typed
        units = _units(grammar, words, state, usual_units or {})
        return _offered(grammar, words, state, begun, awaited, units)
    return NOTHING


def _called(typed: Words, grammar: CallGrammar) -> bool:
    sign = grammar.call_sign
    return bool(sign) and typed[: len(sign)] == sign


def _offered(
    grammar: CallGrammar,
    words: Words,
    state: int,
    begun: str,
    awaited: frozenset[str],
    units: tuple[str, ...],
) -> Offers:
    if begun[:1].isdigit() or begun[:1] in (".", "-"):
        return Offers(begun, (), units)
    if words and words[-1] in NUMBER_WORDS:
        others = [each for each in _single_words(grammar, words, state) if not _of_units(each)]
        return _fitting(begun, [*units, *others], units, grammar, state)
    plain = list(_in_plain_calls(grammar, words))
    first = [each for each in plain if " ".join(each) in awaited]
    found = [" ".join(each) for each in (*first, *plain)]
    if begun or not (found or units):
        found += _single_words(grammar, words, state)
    # Where a name may follow as well, a figure is not what is expected.
    return _fitting(begun, found, () if plain or begun else units, grammar, state)


def _fitting(
    begun: str, found: Iterable[str], units: tuple[str, ...], grammar: CallGrammar, state: int
) -> Offers:
    start = begun.lower()
    texts = dict.fromkeys(each for each in found if each.startswith(start))
    if start in texts and start in units:
        return Offers(begun)
    texts.pop(start, None)
    return Offers(begun, tuple(_spaced(each, grammar, state) for each in texts), units)


def _spaced(text: str, grammar: CallGrammar, state: int) -> str:
    """The text, with a space after it where the call cannot end there."""
    end = grammar.walk(text.split(), state)
    return text if end is None or grammar.is_final(end) else f"{text} "


@lru_cache(maxsize=64)
def _in_plain_calls(grammar: CallGrammar, words: Words) -> tuple[Words, ...]:
    """What follows these words in the plain calls: a whole name, or the words up to the next."""
    found: dict[Words, None] = {}
    here = grammar.walk(words)
    for frame in frames_of(grammar):
        for rest in _after(_chunks(frame.parts), words, grammar):
            if rest not in found and grammar.walk(rest, here) is not None:
                found[rest] = None
    return tuple(found)


@lru_cache(maxsize=256)
def _chunks(parts: tuple[str, ...]) -> tuple[Words, ...]:
    """The words of a frame between its slots, each slot by itself."""
    chunks: list[Words] = []
    for part in parts:
        if part.startswith("{") or not chunks or chunks[-1][0].startswith("{"):
            chunks.append((part,))
        else:
            chunks[-1] = (*chunks[-1], part)
    return tuple(chunks)


def _after(chunks: tuple[Words, ...], words: Words, grammar: CallGrammar) -> Iterator[Words]:
    if not chunks:
        return
    first, rest = chunks[0], chunks[1:]
    sayings: Iterable[tuple[Words, Words]] = ((first, first),)
    if first[0].startswith("{"):
        sayings = names_of(grammar)[first[0][1:-1]].items()
    for said, plain in sayings:
        both = min(len(said), len(words))
        if said[:both] != words[:both]:
            continue
        if len(words) >= len(said):
            yield from (
                _after(rest, words[len(said) :], grammar)
                if len(words) > len(said)
                else (_first(rest, grammar))
            )
        elif said == plain:
            yield said[len(words) :]


def _first(chunks: tuple[Words, ...], grammar: CallGrammar) -> Iterator[Words]:
    """What a chunk may be, whole."""
    return _after(chunks, (), grammar)


def _single_words(grammar: CallGrammar, words: Words, state: int) -> list[str]:
    """Words of whatever form that may come next, those of what is said most first; figures are left
    out. A word after which only one can come brings that one with it, and "of" a fluid."""
    usual = reduce(grammar.usual_step, words, 0)
    arcs = sorted(
        grammar.arcs(state).items(), key=lambda arc: grammar.usual_step(usual, arc[0]) < 0
    )
    found = _of_fluids(grammar, state)
    for word, target in arcs:
        if word in NUMBER_WORDS or word in _LITTLE_WORDS or "'" in word:
            continue
        chain, here = [word], target
        while not grammar.is_final(here) and len(chain) < _LONGEST_CHAIN:
            following = grammar.arcs(here)
            if len(following) != 1:
                break
            ((only, here),) = following.items()
            if only in NUMBER_WORDS:
                break
            chain.append(only)
        found.append(" ".join(chain))
    return found


def _of_fluids(grammar: CallGrammar, state: int) -> list[str]:
    """The fluids, after "of", where one can follow."""
    target = grammar.arcs(state).get("of")
    if target is None:
        return []
    fluids = dict.fromkeys(names_of(grammar)["fluid"].values())
    return [f"of {' '.join(name)}" for name in fluids if grammar.walk(name, target) is not None]


def _units(
    grammar: CallGrammar, words: Words, state: int, usual: Mapping[str, str]
) -> tuple[str, ...]:
    """The units of the figure that comes next or was just called, as they are typed."""
    if not words:
        return ()
    there = state if words[-1] in NUMBER_WORDS else grammar.walk((A_NUMBER,), state)
    units = {} if there is None else units_after(grammar, there)
    first = next(_usual_units(words, usual), None)
    ordered = sorted(units, key=lambda name: name != first)
    return tuple(_typed(name, units[name]) for name in ordered)


def _usual_units(words: Words, usual: Mapping[str, str]) -> Iterator[str]:
    """The sheet's units of the measures that a call begins with, of the longest name first."""
    for end in range(len(words), 0, -1):
        if (name := " ".join(words[:end])) in usual:
            yield usual[name]


def _typed(name: str, said: str) -> str:
    """A unit as it is typed: "psi" for what is said letter by letter."""
    return name if all(len(word) == 1 for word in said.split()) else said


def _of_units(text: str) -> bool:
    """Whether this is a unit in another form."""
    return UNIT_WORDS.issuperset(text.split()) or all(len(word) == 1 for word in text.split())
