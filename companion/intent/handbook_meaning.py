"""What the calls that the handbook answers can mean."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from itertools import product
from types import MappingProxyType

from companion.grammar.parse_tree import Parse
from companion.handbook.unit_table import OunceSystem
from companion.intent.handbook_calls import USUAL_POLES
from companion.intent.numbers import number_values
from companion.intent.tagged import Fields, name_of, quantities, unit_of, values


def _convert(parse: Parse, ounce: OunceSystem) -> Iterator[Fields]:
    to = parse.first("to")
    wanted = next((node.value for node in to.walk() if node.key == "unit"), None) if to else None
    # The unit to convert from is the other one, whichever of them is said first.
    inside = set(to.walk()) if to else set()
    source = next((node for node in parse.all("unit") if node not in inside), None)
    for quantity in quantities(parse, ounce, unit=None if source is None else source.value):
        yield {**quantity, "to": wanted}


def _bolt(parse: Parse, _ounce: OunceSystem) -> Iterator[Fields]:
    node = parse.first("size-inch") or parse.first("size-metric")
    if node is None:
        return
    unit = "inch" if node.key == "size-inch" else "millimeter"
    sizes = values(parse, node) if node.value else number_values(parse.words[node.start : node.end])
    for size in sizes:
        yield {"size": size, "unit": unit}


def _torque(parse: Parse, ounce: OunceSystem) -> Iterator[Fields]:
    how = {
        "grade": name_of(parse, "grade"),
        "condition": name_of(parse, "thread") or "dry",
        "series": name_of(parse, "series") or "coarse",
    }
    for bolt in _bolt(parse, ounce):
        yield {**bolt, **how}


def _wrench(parse: Parse, ounce: OunceSystem) -> Iterator[Fields]:
    for bolt in _bolt(parse, ounce):
        yield {**bolt, "head": name_of(parse, "head") or "usual"}


def _plug(parse: Parse, ounce: OunceSystem) -> Iterator[Fields]:
    for size in _bolt(parse, ounce):
        yield {**size, "seat": name_of(parse, "seat"), "head": name_of(parse, "metal")}


def _charge(parse: Parse, ounce: OunceSystem) -> Iterator[Fields]:
    for volts in quantities(parse, ounce):
        yield {**volts, "type": name_of(parse, "type")}


def _drill(parse: Parse, ounce: OunceSystem) -> Iterator[Fields]:
    node = parse.first("pitch")
    pitches = (None,) if node is None else values(parse, node)
    for bolt, pitch in product(_bolt(parse, ounce), pitches):
        yield {**bolt, "pitch": pitch}


def _mix(parse: Parse, ounce: OunceSystem) -> Iterator[Fields]:
    # "How much oil for two gallons at fifty to one": the ratio may come last.
    last = parse.first("ratio-last") is not None
    ratios = values(parse, parse.all("number")[1 if last else 0])
    for ratio, quantity in product(ratios, quantities(parse, ounce, which=0 if last else 1)):
        yield {"ratio": ratio, **quantity}


def _pulley(parse: Parse, ounce: OunceSystem) -> Iterator[Fields]:
    driver, driven, _ = parse.all("number")
    for one, other, speed in product(
        values(parse, driver),
        values(parse, driven),
        quantities(parse, ounce, which=2, unit="rpm"),
    ):
        yield {"driver": one, "driven": other, "size_unit": unit_of(parse), **speed}


def _tip_speed(parse: Parse, ounce: OunceSystem) -> Iterator[Fields]:
    speeds = values(parse, parse.all("number")[1])
    for length, rpm in product(quantities(parse, ounce), speeds):
        yield {**length, "rpm": rpm}


def _frequency(parse: Parse, ounce: OunceSystem) -> Iterator[Fields]:
    for speed in quantities(parse, ounce, unit="rpm"):
        yield {
            **speed,
            "poles": name_of(parse, "poles") or USUAL_POLES,
            "nominal": name_of(parse, "nominal"),
        }


def _displacement(parse: Parse, _ounce: OunceSystem) -> Iterator[Fields]:
    bores, strokes = (values(parse, node) for node in parse.all("number"))
    cylinders = int(name_of(parse, "cylinders") or 1)
    for bore, stroke in product(bores, strokes):
        yield {"bore": bore, "stroke": stroke, "unit": unit_of(parse), "cylinders": cylinders}


def _advice(parse: Parse, _ounce: OunceSystem) -> Iterator[Fields]:
    yield {"measure": name_of(parse, "measure"), "heard": name_of(parse, "heard")}


HANDBOOK: Mapping[str, Callable[[Parse, OunceSystem], Iterator[Fields]]] = MappingProxyType(
    {
        "convert": _convert,
        "torque": _torque,
        "wrench": _wrench,
        "plug.torque": _plug,
        "drill": _drill,
        "mix": _mix,
        "oil.grade": quantities,
        "pulley": _pulley,
        "tip.speed": _tip_speed,
        "frequency": _frequency,
        "charge": _charge,
        "displacement": _displacement,
        "advice": _advice,
    }
)
"""How the tags of each family fill its intent."""
