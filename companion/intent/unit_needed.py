"""Why a call with a number is not one: the unit is missing, or does not fit what is measured."""

from __future__ import annotations

from collections.abc import Sequence

from companion.grammar.compiled import CallGrammar
from companion.handbook.units import UNITS, UnknownUnit, find_unit
from companion.intent.match import SAYING_NOTHING, UNIT_WORDS
from companion.intent.numbers import NUMBER_WORDS


def unit_needed(words: Sequence[str], grammar: CallGrammar) -> str | None:
    """Say what is wrong with the unit of a call, if that is what is wrong with it.

    Args:
        words: Lower case, no sentence of the grammar.
        grammar: What may be said.

    Returns:
        A short phrase that names the units that fit ("the unit is missing: thou, inches or
        millimeters"), or None if the trouble is another.
    """
    for end in range(len(words), 0, -1):
        state = grammar.walk(words[:end])
        if state is None:
            continue
        fitting = _fitting(grammar, state)
        if not fitting or not NUMBER_WORDS & set(words[:end]):
            return None
        # With its unit it is whole, and what follows "of" is a fluid.
        if words[end - 1] == "of" or (words[end - 1] in UNIT_WORDS and grammar.is_final(state)):
            return None
        rest = [word for word in words[end:] if word not in SAYING_NOTHING]
        if not rest:
            return f"the unit is missing: {fitting}"
        unit = " ".join(rest)
        if _is_unit(unit):
            return f"'{unit}' does not fit: {fitting}"
        if len(rest) <= 2 and rest[0] not in grammar.words:
            return f"'{unit}' is no unit here: {fitting}"
        return None
    return None


def _fitting(grammar: CallGrammar, state: int) -> str:
    """The units that may come next, as they are said: "thou, inches or millimeters"."""
    names: list[str] = []
    for unit in UNITS.values():
        forms = (unit.plural, unit.singular, unit.name)
        said = next((form for form in forms if _may_follow(form.split(), grammar, state)), None)
        if said is not None:
            names.append(said)
    return " or ".join(filter(None, (", ".join(names[:-1]), *names[-1:])))


def _may_follow(unit: Sequence[str], grammar: CallGrammar, state: int) -> bool:
    """Whether this is a whole unit here, and not the "inch" of "inch pounds"."""
    beyond = grammar.walk(unit, state)
    if beyond is None:
        return False
    return grammar.is_final(beyond) or not UNIT_WORDS.issuperset(grammar.arcs(beyond))


def _is_unit(text: str) -> bool:
    """Whether this is a unit of the bench, of whatever dimension."""
    try:
        find_unit(text)
    except UnknownUnit:
        return all(word in UNIT_WORDS for word in text.split())
    return True
