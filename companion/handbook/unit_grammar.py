"""The grammar of units and of what can be converted, written from the table of units.

``python -m companion.handbook.unit_grammar`` writes ``grammars/conversions.gram`` anew; a test
holds the file to the table.
"""

from __future__ import annotations

from collections.abc import Iterator

from companion.handbook.unit_table import UNITS, Unit
from companion.shipped import shipped

FILE = "conversions.gram"

_HEAD = (
    "#JSGF V1.0 UTF-8 en;",
    "// Written from the table in companion/handbook/unit_table.py by: python -m"
    " companion.handbook.unit_grammar",
    "// A unit is added there, never here. Of each unit: how it is said, and into which it can be"
    " converted.",
    "grammar conversions;",
    "",
    "import <numbers.*>;",
    "",
)


def unit_grammar() -> str:
    """Return the text of the grammar.

    For each unit that is called there is ``<unit-NAME>``, all ways to say it, and where parts are
    called of it ``<part-NAME>`` ("half an inch") and ``<one-NAME>`` ("a gallon"). What follows
    "convert" is ``<conversion>``.
    """
    return "\n".join((*_HEAD, *_units(), "", *_conversions(), ""))


def converts(unit: Unit) -> tuple[Unit, ...]:
    """The units that a spoken call can convert this one to."""
    if not unit.called:
        return ()
    return tuple(
        other
        for other in UNITS.values()
        if other.dimension == unit.dimension and other != unit and other.called
    )


def _units() -> Iterator[str]:
    for unit in UNITS.values():
        if not unit.called:
            continue
        said = " | ".join(unit.said)
        yield f"public <unit-{_rule(unit)}> = ({said}) {{unit={unit.name}}};"
        if unit.parts:
            article = "an" if unit.singular[0] in "aeiou" else "a"
            tag = f"{unit.singular} {{unit={unit.name}}}"
            yield f"public <part-{_rule(unit)}> = <part-of-{article}> {tag};"
            yield f"public <one-{_rule(unit)}> = {article} {{number=1}} {tag};"


def _conversions() -> Iterator[str]:
    names = []
    for unit in UNITS.values():
        others = converts(unit)
        if not others:
            continue
        rule = _rule(unit)
        names.append(f"<from-{rule}>")
        amount = f"<{unit.called}> <unit-{rule}>"
        if unit.parts:
            amount = f"({amount} | <part-{rule}>{'' if _alike(unit) else f' | <one-{rule}>'})"
        wanted = " | ".join(f"<to-{_rule(other)}>" for other in others)
        yield f"<to-{rule}> = <unit-{rule}> {{to}};"
        yield f"<amount-{rule}> = {amount};"
        yield f"<from-{rule}> = <amount-{rule}> (to | in | into) ({wanted});"
    yield f"public <conversion> = {' | '.join(names)};"
    # "How many millimeters is thirty thou": the amounts are those that can be converted to it.
    reversed_too = [unit for unit in UNITS.values() if converts(unit)]
    for unit in reversed_too:
        amounts = " | ".join(f"<amount-{_rule(other)}>" for other in converts(unit))
        yield f"<many-{_rule(unit)}> = <to-{_rule(unit)}> (is | are | in | are in) ({amounts});"
    many = " | ".join(f"<many-{_rule(unit)}>" for unit in reversed_too)
    yield f"public <reversed-conversion> = {many};"


def _alike(unit: Unit) -> bool:
    """Whether "a thou" would differ from "eight thou" by the number alone, which sounds like it."""
    return unit.singular == unit.plural


def _rule(unit: Unit) -> str:
    return unit.name.replace(" ", "-")


if __name__ == "__main__":
    (shipped("grammars") / FILE).write_text(unit_grammar(), encoding="utf-8")
