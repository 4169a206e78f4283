"""What the tags of a sentence hold: numbers, units, quantities and names."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Any

from companion.grammar.parse_tree import Node, Parse
from companion.handbook.unit_table import OunceSystem
from companion.handbook.units import to_si
from companion.intent.call import SI
from companion.intent.numbers import DIGITS, number_values

Fields = dict[str, Any]
"""Some fields of an intent, by name."""


def values(parse: Parse, node: Node, unit: str | None = None) -> tuple[Decimal, ...]:
    """Every value that a number can mean in this unit.

    Args:
        parse: Of the whole call.
        node: The number in it.
        unit: In which it was called; None where it has none.
    """
    if node.value is not None:
        return (Decimal(node.value),)
    words = parse.words[node.start : node.end]
    found = number_values(words)
    if unit == "volt" and _reads_as_hundredths(words, found):
        return (found[0].scaleb(-2), *found)
    return found


def _reads_as_hundredths(words: Sequence[str], found: Sequence[Decimal]) -> bool:
    """Whether "twelve sixty" is called, which in volts may well be 12.60 and not 1260."""
    called_in_pairs = not {"hundred", "thousand", "point", "and"} & set(words)
    return called_in_pairs and words[0] not in DIGITS and len(found) == 1 and found[0] >= 1000


def si_of(value: Decimal, unit: str, ounce: OunceSystem) -> SI:
    """Return a value in the SI unit of its dimension.

    Args:
        value: In ``unit``.
        unit: A unit's name.
        ounce: Which ounce, pint, quart and gallon are meant.
    """
    amount, si_unit = to_si(value, unit, ounce=ounce)
    return SI.model_validate({"value": float(amount), "unit": si_unit})


def unit_of(parse: Parse) -> str | None:
    """The unit that was called, or the one that a bare number of this measure is in."""
    node = parse.first("unit") or parse.first("bare") or parse.first("assumed")
    return node.value if node else None


def quantities(
    parse: Parse, ounce: OunceSystem, which: int = 0, unit: str | None = None
) -> Iterator[Fields]:
    """Value, unit and SI, for each meaning of a number.

    Args:
        parse: The sentence.
        ounce: Whose ounce is meant.
        which: Place among the numbers of the sentence, from 0.
        unit: Of the number; the one that the sentence names if None.
    """
    unit = unit or unit_of(parse)
    for value in values(parse, parse.all("number")[which], unit):
        si = si_of(value, unit, ounce) if unit else None
        yield {"value": value, "unit": unit, "si": si}


def name_of(parse: Parse, *keys: str) -> str | None:
    """The value of the first of these tags that is there."""
    node = next((node for node in parse.walk() if node.key in keys), None)
    return None if node is None else node.value or parse.text(node)


def part_of(parse: Parse) -> str | None:
    """The part that was called, with its side before it: "left wheel"."""
    side, part = name_of(parse, "side"), name_of(parse, "part")
    return part if side is None or part is None else f"{side} {part}"
