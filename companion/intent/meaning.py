"""From a tagged tree to every intent that it can mean."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from decimal import Decimal
from itertools import product
from typing import Any

from companion.grammar.compiled import CallGrammar
from companion.grammar.tree import Node, Parse
from companion.handbook.units import OunceSystem, to_si
from companion.intent.intents import INTENT, SI, Intent
from companion.intent.numbers import DIGITS, number_values

DEFAULT_TIMER = "timer"
"""The name of a timer that was given none."""

Fields = dict[str, Any]


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
    return tuple(dict.fromkeys(intents))


def has_call_sign(words: Sequence[str], grammar: CallGrammar) -> bool:
    """Whether the words open with the call sign, whatever follows it."""
    return call_sign_length(words, grammar) > 0


def call_sign_length(words: Sequence[str], grammar: CallGrammar) -> int:
    """How many words of call sign these open with."""
    for length in range(1, min(3, len(words)) + 1):
        # "Roger" is a call of every grammar, so what stands before it can only be the call sign.
        parses = grammar.parse((*words[:length], "roger"))
        if any(parse.first("call-sign") for parse in parses):
            return length
    return 0


def _values(parse: Parse, node: Node, unit: str | None = None) -> tuple[Decimal, ...]:
    """Every value that a number can mean in this unit."""
    if node.value is not None:
        return (Decimal(node.value),)
    words = parse.words[node.start : node.end]
    values = number_values(words)
    if unit == "volt" and _reads_as_hundredths(words, values):
        return (values[0].scaleb(-2), *values)
    return values


def _reads_as_hundredths(words: Sequence[str], values: Sequence[Decimal]) -> bool:
    """Whether "twelve sixty" is called, which in volts may well be 12.60 and not 1260."""
    called_in_pairs = not {"hundred", "thousand", "point", "and"} & set(words)
    return called_in_pairs and words[0] not in DIGITS and len(values) == 1 and values[0] >= 1000


def _si(value: Decimal, unit: str, ounce: OunceSystem) -> SI:
    amount, si_unit = to_si(value, unit, ounce=ounce)
    return SI.model_validate({"value": float(amount), "unit": si_unit})


def _unit(parse: Parse) -> str | None:
    """The unit that was called, or the one that a bare number of this measure is in."""
    node = parse.first("unit") or parse.first("bare")
    return node.value if node else None


def _quantities(parse: Parse, ounce: OunceSystem, which: int = 0) -> Iterator[Fields]:
    """Value, unit and SI, for each meaning of the number."""
    unit = _unit(parse)
    for value in _values(parse, parse.all("number")[which], unit):
        si = _si(value, unit, ounce) if unit else None
        yield {"value": value, "unit": unit, "si": si}


def _name(parse: Parse, *keys: str) -> str | None:
    """The value of the first of these tags that is there."""
    node = next((node for node in parse.walk() if node.key in keys), None)
    return None if node is None else node.value or parse.text(node)


def _count(parse: Parse) -> int:
    node = parse.first("count")
    if node is None or parse.text(node) in ("a", "an"):
        return 1
    (value,) = number_values(parse.words[node.start : node.end])
    return int(value)


def _no_fields(_parse: Parse, _ounce: OunceSystem) -> Iterator[Fields]:
    yield {}


def _named(*keys: str) -> Callable[[Parse, OunceSystem], Iterator[Fields]]:
    """Fields that are named like their tags."""

    def fill(parse: Parse, _ounce: OunceSystem) -> Iterator[Fields]:
        yield {key: _name(parse, key) for key in keys}

    return fill


def _reading(parse: Parse, ounce: OunceSystem) -> Iterator[Fields]:
    for quantity in _quantities(parse, ounce):
        yield {"measure": _name(parse, "measure"), **quantity}


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
    yield {"part": _name(parse, "part"), "count": _count(parse)}


def _readback(parse: Parse, _ounce: OunceSystem) -> Iterator[Fields]:
    yield {"subject": _name(parse, "measure", "fluid", "subject")}


def _convert(parse: Parse, ounce: OunceSystem) -> Iterator[Fields]:
    to = parse.first("to")
    wanted = next((node.value for node in to.walk() if node.key == "unit"), None) if to else None
    for quantity in _quantities(parse, ounce):
        yield {**quantity, "to": wanted}


def _bolt(parse: Parse, _ounce: OunceSystem) -> Iterator[Fields]:
    node = parse.first("size-inch") or parse.first("size-metric")
    if node is None:
        return
    unit = "inch" if node.key == "size-inch" else "millimeter"
    for size in number_values(parse.words[node.start : node.end]):
        yield {"size": size, "unit": unit}


def _torque(parse: Parse, ounce: OunceSystem) -> Iterator[Fields]:
    condition = _name(parse, "thread") or "dry"
    for bolt in _bolt(parse, ounce):
        yield {**bolt, "grade": _name(parse, "grade"), "condition": condition}


def _mix(parse: Parse, ounce: OunceSystem) -> Iterator[Fields]:
    ratios = _values(parse, parse.all("number")[0])
    for ratio, quantity in product(ratios, _quantities(parse, ounce, which=1)):
        yield {"ratio": ratio, **quantity}


_FILL: dict[str, Callable[[Parse, OunceSystem], Iterator[Fields]]] = {
    "reading": _reading,
    "fluid": _fluid,
    "level": _named("fluid", "level"),
    "timer.start": _timer_start,
    "timer.left": _timer_left,
    "timer.cancel": _timer_cancel,
    "tag.hang": _named("tag"),
    "tag.clear": _named("tag"),
    "finding": _named("part", "condition"),
    "work": _named("action", "part"),
    "part.need": _part,
    "part.used": _part,
    "followup": _named("part"),
    "readback": _readback,
    "spec": _named("measure"),
    "convert": _convert,
    "torque": _torque,
    "wrench": _bolt,
    "mix": _mix,
}
"""How the tags of each family fill its intent; families that are not here say nothing more."""
