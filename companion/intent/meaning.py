"""From a tagged tree to every intent that it can mean."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

from companion.grammar.compiled import CallGrammar
from companion.grammar.parse_tree import Parse
from companion.handbook.unit_table import OunceSystem
from companion.handbook.units import to_si
from companion.intent.handbook_meaning import HANDBOOK
from companion.intent.intents import INTENT, Intent, Reading, Work
from companion.intent.numbers import number_values
from companion.intent.short_words import off, on, said_otherwise
from companion.intent.spelling import spelled
from companion.intent.tagged import Fields
from companion.intent.tagged import name_of as _name
from companion.intent.tagged import part_of as _part_name
from companion.intent.tagged import quantities as _quantities
from companion.intent.tagged import unit_of as _unit
from companion.intent.tagged import values as _values

DEFAULT_TIMER = "timer"
"""The name of a timer that was given none."""


def interpret(
    parse: Parse, ounce: OunceSystem = "us", correcting_unit: str | None = None
) -> tuple[Intent, ...]:
    """Give every intent that a tagged tree can mean.

    Args:
        parse: As ``CallGrammar.parse`` gives it.
        ounce: Which fluid ounce (and pint, quart, gallon) this shop means.
        correcting_unit: The unit that a correction without one would be in, if known.

    Returns:
        One intent for each meaning of its numbers, the most usual first; none if the tree holds no
        intent.
    """
    node = parse.first("intent")
    if node is None or node.value is None:
        return ()
    if node.value in _SEVERAL:
        return tuple(
            INTENT.validate_python({"intent": name, key: _name(parse, "measure")})
            for name, key in _SEVERAL[node.value]
        )
    if node.value == "correction":
        filled = _correction(parse, ounce, correcting_unit)
    else:
        filled = _FILL.get(node.value, _no_fields)(parse, ounce)
    return tuple(
        dict.fromkeys(INTENT.validate_python({"intent": node.value, **fields}) for fields in filled)
    )


def meanings(
    words: Sequence[str],
    grammar: CallGrammar,
    ounce: OunceSystem = "us",
    correcting_unit: str | None = None,
) -> tuple[Intent, ...]:
    """Give every intent that a sentence of the grammar can mean; none if it is no sentence."""
    intents = (
        intent
        for parse in grammar.parse(words)
        for intent in interpret(parse, ounce, correcting_unit)
    )
    return _or_a_tag(_named_first(tuple(dict.fromkeys(intents))), words, grammar)


@dataclass(frozen=True, slots=True)
class Manner:
    """How a call was put, where that alone calls for a question.

    Attributes:
        asked: In a form that is never acted on without a question.
        assumed: The unit that was left out and stands in the spec sheet; None where none was.
    """

    asked: bool = False
    assumed: str | None = None


PLAIN = Manner()
"""Nothing calls for a question."""


def manner(words: Sequence[str], grammar: CallGrammar) -> Manner:
    """Say how a sentence of the grammar was put."""
    parses = grammar.parse(words)
    assumed = next((node.value for parse in parses if (node := parse.first("assumed"))), None)
    return Manner(any(parse.first("asked") for parse in parses), assumed)


def _or_a_tag(
    intents: tuple[Intent, ...], words: Sequence[str], grammar: CallGrammar
) -> tuple[Intent, ...]:
    """Add the tag where a part was called off in the very name of one ("plug wire off")."""
    if not intents or not all(isinstance(each, Work) for each in intents) or words[-1] != "off":
        return intents
    parses = grammar.parse(("tag", *words[call_sign_length(words, grammar) :]))
    return (*intents, *(each for parse in parses for each in interpret(parse)))


def _named_first(intents: tuple[Intent, ...]) -> tuple[Intent, ...]:
    """Leave out a measure of a cylinder where the sheet has one with the cylinder in its name."""
    if any(isinstance(each, Reading) and each.cylinder is None for each in intents):
        return tuple(
            each for each in intents if not isinstance(each, Reading) or each.cylinder is None
        )
    return intents


def call_sign_length(words: Sequence[str], grammar: CallGrammar) -> int:
    """How many words of call sign these open with."""
    for length in range(1, min(3, len(words)) + 1):
        # "Roger" is a call of every grammar, so what stands before it can only be the call sign.
        parses = grammar.parse((*words[:length], "roger"))
        if any(parse.first("call-sign") for parse in parses):
            return length
    return 0


def _count(parse: Parse) -> int:
    node = parse.first("count")
    if node is None or parse.text(node) in ("a", "an"):
        return 1
    if node.value is not None:
        return int(node.value)
    (value,) = number_values(parse.words[node.start : node.end])
    return int(value)


def _no_fields(_parse: Parse, _ounce: OunceSystem) -> Iterator[Fields]:
    yield {}


def _named(*keys: str) -> Callable[[Parse, OunceSystem], Iterator[Fields]]:
    """Fields that are named like their tags."""

    def fill(parse: Parse, _ounce: OunceSystem) -> Iterator[Fields]:
        yield {key: _name(parse, key) for key in keys}

    return fill


def _cylinder(parse: Parse) -> int | None:
    node = parse.first("cylinder")
    return None if node is None else int(number_values((parse.words[node.end - 1],))[0])


def _reading(parse: Parse, ounce: OunceSystem) -> Iterator[Fields]:
    for quantity in _quantities(parse, ounce):
        yield {"measure": _name(parse, "measure"), "cylinder": _cylinder(parse), **quantity}


def _correction(parse: Parse, ounce: OunceSystem, correcting_unit: str | None) -> Iterator[Fields]:
    if _unit(parse) is not None:
        yield from _quantities(parse, ounce)
        return
    for node in parse.all("number"):
        for value in _values(parse, node, correcting_unit):
            yield {"value": value}


def _fluid(parse: Parse, ounce: OunceSystem) -> Iterator[Fields]:
    for quantity in _quantities(parse, ounce):
        yield {"action": _name(parse, "action"), "fluid": _name(parse, "fluid"), **quantity}


def _timer_start(parse: Parse, ounce: OunceSystem) -> Iterator[Fields]:
    duration = parse.first("duration")
    if duration is None:
        yield {"name": _name(parse, "timer") or DEFAULT_TIMER}
        return
    numbers = [node for node in duration.walk() if node.key == "number"]
    units = [node.value or parse.text(node) for node in duration.walk() if node.key == "unit"]
    for values in product(*(_values(parse, node) for node in numbers)):
        seconds = sum(
            to_si(value, unit, ounce=ounce)[0] for value, unit in zip(values, units, strict=True)
        )
        yield {"name": _name(parse, "timer") or DEFAULT_TIMER, "seconds": float(seconds)}


def _timer_left(parse: Parse, _ounce: OunceSystem) -> Iterator[Fields]:
    yield {"name": _name(parse, "timer")}


def _timer_cancel(parse: Parse, _ounce: OunceSystem) -> Iterator[Fields]:
    yield {"name": _name(parse, "timer") or DEFAULT_TIMER}


def _part(parse: Parse, _ounce: OunceSystem) -> Iterator[Fields]:
    yield {"part": _part_name(parse), "count": _count(parse)}


def _follow_up(parse: Parse, _ounce: OunceSystem) -> Iterator[Fields]:
    yield {"part": _part_name(parse)}


def _how_many(parse: Parse) -> Fields:
    """One, so many, or all of them: several called without a number."""
    return {"count": _count(parse), "every": parse.first("every") is not None}


def _finding(parse: Parse, _ounce: OunceSystem) -> Iterator[Fields]:
    part = _part_name(parse)
    if part is not None and said_otherwise(parse.words, part):
        return
    yield {
        "part": part,
        "condition": _name(parse, "condition"),
        **_how_many(parse),
    }


def _work(parse: Parse, _ounce: OunceSystem) -> Iterator[Fields]:
    action, part = _name(parse, "action"), _part_name(parse)
    assert part is not None
    if said_otherwise(parse.words, part):
        return
    said = {"off": off, "on": on}.get(action or "")
    done = action if said is None else said(part)
    yield {"action": done, "part": part, **_how_many(parse)}


def _serial(parse: Parse, _ounce: OunceSystem) -> Iterator[Fields]:
    node = parse.first("spelled")
    assert node is not None
    kind = parse.first("kind")
    machine = None if kind is None else " ".join(parse.words[kind.start : kind.end])
    for serial in spelled(parse.words[node.start : node.end]):
        yield {"serial": serial, "machine": machine}


def _readback(parse: Parse, _ounce: OunceSystem) -> Iterator[Fields]:
    yield {"subject": _name(parse, "measure", "fluid", "subject")}


_SEVERAL: Mapping[str, tuple[tuple[str, str], ...]] = {
    "ask.measure": (("readback", "subject"), ("spec", "measure")),
}
"""Forms that may mean several calls: the intents, each with its field for what was named."""

_FILL: dict[str, Callable[[Parse, OunceSystem], Iterator[Fields]]] = {
    "reading": _reading,
    "fluid": _fluid,
    "level": _named("fluid", "level"),
    "fluid.left": _named("fluid"),
    "fluid.grade": _named("fluid"),
    "timer.start": _timer_start,
    "timer.left": _timer_left,
    "timer.cancel": _timer_cancel,
    "tag.hang": _named("tag"),
    "tag.clear": _named("tag"),
    "step.skip": _named("reason"),
    "step.go": _named("step"),
    "finding": _finding,
    "work": _work,
    "part.need": _part,
    "part.used": _part,
    "followup": _follow_up,
    "serial": _serial,
    "readback": _readback,
    "spec": _named("measure"),
    **HANDBOOK,
}
"""How the tags of each family fill its intent; families that are not here say nothing more."""
