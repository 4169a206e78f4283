"""Why a call with a number is not one: the unit is missing, or does not fit what is measured."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence
from itertools import dropwhile

from companion.grammar.compiled import CallGrammar
from companion.handbook.unit_table import UNITS
from companion.handbook.units import UnknownUnit, find_unit
from companion.intent.match import EXACT_WORDS, FILLERS, SAYING_NOTHING, UNIT_WORDS
from companion.intent.meaning import call_sign_length
from companion.intent.numbers import NUMBER_WORDS
from companion.intent.plain_calls import names_of
from companion.intent.tagged import name_of

A_UNIT_ALONE = "a unit alone"
"""How the reason begins where a unit was called and not what was measured."""

_RECORDED = frozenset({"reading", "fluid"})
_LONGEST_NAME = 3
_MOST_NAMED = 3


def unit_needed(words: Sequence[str], grammar: CallGrammar) -> str | None:
    """Say what is wrong with the unit of a call, if anything is.

    Args:
        words: Lower case, no sentence of the grammar.
        grammar: What may be said.

    Returns:
        A short phrase that names the units that fit ("the unit is missing: thou, inches or
        millimeters"); of a unit called without a measure, what may be called in it; or None if the
        trouble is another.
    """
    alone = _unit_alone([word for word in words if word not in FILLERS], grammar)
    if alone is not None:
        return alone
    for end in range(len(words), 0, -1):
        state = grammar.walk(words[:end])
        if state is None:
            continue
        fitting = _fitting(grammar, state)
        if not fitting or not NUMBER_WORDS & set(words[:end]):
            return None
        # With its unit the call is whole; only a fluid can follow "of".
        if words[end - 1] == "of" or (words[end - 1] in UNIT_WORDS and grammar.is_final(state)):
            return None
        rest = [word for word in words[end:] if word not in SAYING_NOTHING]
        if not rest:
            return f"the unit is missing: {fitting}"
        unit = " ".join(rest)
        if _is_unit(unit):
            if _is_amount(words[:end], unit, grammar):
                return None
            return f"'{unit}' does not fit: {fitting}"
        if len(rest) <= 2 and rest[0] not in grammar.words:
            return f"'{unit}' is no unit here: {fitting}"
        return None
    return None


def _unit_alone(words: Sequence[str], grammar: CallGrammar) -> str | None:
    """Say which calls are in a unit that was called by itself, or with its number only; None if
    something else was called."""
    unit = list(dropwhile(_is_number, words[call_sign_length(words, grammar) :]))
    if not unit or grammar.walk(unit) is not None or not _is_unit(" ".join(unit)):
        return None
    names = dict.fromkeys(_called_in(unit, grammar))
    return f"{A_UNIT_ALONE}: {_listed(sorted(names, key=len)[:_MOST_NAMED])}" if names else None


def _is_number(word: str) -> bool:
    return word in NUMBER_WORDS or word in ("and", "a", "an")


def _called_in(unit: Sequence[str], grammar: CallGrammar) -> Iterator[str]:
    """What a number in this unit may be called of, plainly: "gap", "intake clearance", "added"."""
    waiting: deque[tuple[tuple[str, ...], int]] = deque([((), grammar.start)])
    while waiting:
        words, state = waiting.popleft()
        if words and grammar.walk(["two", *unit], state) is not None:
            parses = grammar.parse([*words, "two", *unit])
            if any((node := parse.first("intent")) and node.value in _RECORDED for parse in parses):
                named = {name_of(parse, "measure", "action") for parse in parses}
                if " ".join(words) in named:
                    yield " ".join(words)
                    continue
        if len(words) < _LONGEST_NAME:
            waiting.extend(
                ((*words, word), target)
                for word, target in grammar.arcs(state).items()
                if word not in EXACT_WORDS and (words or word not in grammar.call_sign)
            )


def _listed(names: Sequence[str]) -> str:
    return " or ".join(filter(None, (", ".join(names[:-1]), *names[-1:])))


def _fitting(grammar: CallGrammar, state: int) -> str:
    """The units that may come next, as they are said: "thou, inches or millimeters"."""
    return _listed(tuple(units_after(grammar, state).values()))


def units_after(grammar: CallGrammar, state: int) -> dict[str, str]:
    """The units that may come next, by the name they are recorded under, as they are said: "psi":
    "p s i".

    Args:
        grammar: What may be said.
        state: Of its automaton: mostly after a number.
    """
    names: dict[str, str] = {}
    named: set[str] = set()
    for unit in UNITS.values():
        if named.intersection((unit.singular, unit.plural)):
            continue  # this would be "pounds" of weight, where "p s i" already stands for pounds
        forms = (unit.plural, unit.singular, unit.name)
        said = next((form for form in forms if _may_follow(form.split(), grammar, state)), None)
        if said is not None:
            names[unit.name] = said
            named.update(unit.said)
    return names


def _may_follow(unit: Sequence[str], grammar: CallGrammar, state: int) -> bool:
    """Whether this is a whole unit here, and not the "inch" of "inch pounds"."""
    beyond = grammar.walk(unit, state)
    if beyond is None:
        return False
    return grammar.is_final(beyond) or not UNIT_WORDS.issuperset(grammar.arcs(beyond))


def _is_amount(words: Sequence[str], unit: str, grammar: CallGrammar) -> bool:
    """Whether a fluid is named with a unit that fluids are called in: "oil twenty ounces" lacks no
    unit, but what was done."""
    try:
        volume = find_unit(unit).dimension == "volume"
    except UnknownUnit:
        return False
    name = tuple(word for word in words[call_sign_length(words, grammar) :] if not _is_number(word))
    return volume and name in names_of(grammar)["fluid"]


def _is_unit(text: str) -> bool:
    """Whether this is a unit of the bench, of whatever dimension."""
    try:
        find_unit(text)
    except UnknownUnit:
        return all(word in UNIT_WORDS for word in text.split())
    return True
