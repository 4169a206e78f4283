"""Readings called shorter: without their unit, or by a part of the measure's name.

Both follow from the words of the job: a unit may be left out where the spec sheet has the measure
in one unit only, and "tine bolt at thirty foot pounds" can mean but one measure of torque.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType

from companion.grammar.plural import plural
from companion.handbook.unit_table import DIMENSIONS, MEASURE_DIMENSIONS, UNITS, MeasureDimension

Forms = Mapping[MeasureDimension, Mapping[str, str]]
"""By dimension, each way to say a measure and the measure that it means."""

_KINDS = frozenset(
    {
        "clearance", "lash", "gap", "torque", "pressure", "temperature", "voltage", "resistance",
        "speed", "thickness", "length", "deflection", "draw", "current", "frequency", "power",
    }
)  # fmt: skip
"""Last words of measures that only say what is measured: the unit says it again."""

_PLACES = frozenset({"output", "charging", "engine", "air"})
"""First words of measures that say where; left out where nothing else of the kind is measured."""

_CALLED_TOO = MappingProxyType(
    {"plug": "spark plug", "intake": "intake valve", "exhaust": "exhaust valve"}
)
"""What is measured, by its longer name."""

_LONG_BY = MappingProxyType({"thickness": "thick", "length": "long"})
"""What may follow a value of what is measured: "blade is one forty thou thick"."""

_FALLBACK = "<common.speed-measure> <numbers.whole-number> {bare=rpm}"
"""Stands in a rule that has nothing of its own: not every reader of JSGF knows <VOID>."""


def bare_readings(forms: Forms, units: Mapping[str, str]) -> str:
    """Write the rule ``bare-reading``: a measure and a number, the unit as the sheet has it.

    Args:
        forms: What may be measured.
        units: Of a measure, the one unit that the sheet has it in.
    """
    said = {words: name for each in forms.values() for words, name in each.items()}
    return _rule("bare-reading", _bare(said, units, joined="[<common.is>]"))


def short_readings(forms: Forms, units: Mapping[str, str]) -> str:
    """Write the rule ``short-reading``: measures by a part of their names, where that leaves one.

    Args:
        forms: What may be measured.
        units: Of a measure, the one unit that the sheet has it in.
    """
    short = {dimension: _shortened(said) for dimension, said in forms.items()}
    choices = []
    for dimension in MEASURE_DIMENSIONS:
        value = DIMENSIONS[dimension].called
        if not value:
            continue  # turns and hours say by themselves what they are of
        if short[dimension]:
            named = _named(short[dimension])
            choices.append(f"({named}) [<common.is>] {value}")
            choices.append(f"{value} [<common.on>] ({named})")
        if dimension == "torque" and short[dimension]:
            choices.append(f"(torqued | pulled) [the] ({named}) to {value}")
            choices.append(f"({named}) [is | are] torqued to {value}")
        if dimension == "resistance" and short[dimension]:
            choices.append(f"({named}) (ohms | ohms out) [at] {value}")
        apart = _apart(forms[dimension])
        if apart:
            choices.append(f"({_named(apart)}) <common.is> {value}")
            choices.append(f"{value} ({_named(apart)})")
    for kind, by in _LONG_BY.items():
        along = {words: name for words, name in short["length"].items() if name.endswith(kind)}
        if along:
            choices.append(f"({_named(along)}) [<common.is>] {DIMENSIONS['length'].called} {by}")
    spoken = [words for each in short.values() for words in each]
    alone = {
        words: name
        for each in short.values()
        for words, name in each.items()
        if spoken.count(words) == 1
    }
    choices += _bare(alone, units, joined="<common.is>")
    return _rule("short-reading", choices)


def longer_measures(forms: Forms) -> str:
    """Write the rule ``longer-measure``: measures by more than their names, asked for as well.

    Args:
        forms: What may be measured.
    """
    said = {words: name for each in forms.values() for words, name in each.items()}
    longer = {
        long: name for words, name in said.items() for long in _longer(words) if long not in said
    }
    return _rule("longer-measure", [_named(longer)] if longer else (), "<common.length-measure>")


def bolts_torqued(forms: Forms) -> str:
    """Write the rule ``short-torque``: what a torque is measured of, without that word.

    Args:
        forms: What may be measured.
    """
    short = _shortened(forms["torque"])
    return _rule("short-torque", [_named(short)] if short else (), "<common.torque-measure>")


def _bare(said: Mapping[str, str], units: Mapping[str, str], *, joined: str) -> Iterator[str]:
    by_unit: dict[str, dict[str, str]] = {}
    for words, name in said.items():
        unit = units.get(name)
        # Where the word may be left out with any sheet, the grammar has it so already.
        if unit is not None and UNITS[unit].read_in and not UNITS[unit].left_out:
            by_unit.setdefault(unit, {})[words] = name
    for unit, measures in by_unit.items():
        numbers = " | ".join(f"<numbers.{rule}>" for rule in UNITS[unit].read_in)
        yield f"({_named(measures)}) {joined} ({numbers}) {{assumed={unit}}}"
        yield f"({numbers}) {{assumed={unit}}} <common.on> ({_named(measures)})"


def _shortened(said: Mapping[str, str]) -> Mapping[str, str]:
    """Shorter names that mean one measure each, and are no names themselves."""
    meant: dict[str, set[str]] = {}
    for words, name in said.items():
        for short in _shorter(words.split()):
            meant.setdefault(short, set()).add(name)
    return {
        short: name for short, (name, *others) in meant.items() if not others and short not in said
    }


def _shorter(words: Sequence[str]) -> Iterator[str]:
    if len(words) > 1 and words[-1] in _KINDS:
        thing = " ".join(words[:-1])
        yield thing
        if thing in _CALLED_TOO:
            yield _CALLED_TOO[thing]
        if thing == "output":
            yield from ("putting out", "making")
        if words[-1] == "pressure":
            yield f"{thing} gauge"
        several = plural(thing)
        if several is not None and (words[-1] == "torque" or words == ["tire", "pressure"]):
            yield several
    if len(words) > 1 and words[0] in _PLACES:
        yield " ".join(words[1:])
    if words == ["compression"]:
        yield "compression gauge"
    yield from _longer(" ".join(words))


def _longer(words: str) -> Iterator[str]:
    thing, _, kind = words.rpartition(" ")
    if words == "gap":
        yield from ("plug gap", "spark plug gap")
    elif thing in _CALLED_TOO and kind in _KINDS:
        yield f"{_CALLED_TOO[thing]} {kind}"


def _apart(said: Mapping[str, str]) -> Mapping[str, str]:
    """What is measured and on what, the other way about: "deflection on the belt"."""
    return {
        f"{words[-1]} (of | on | in) [the] {' '.join(words[:-1])}": name
        for name_said, name in said.items()
        if (words := name_said.split())[-1] in _KINDS and len(words) > 1 and words[0] not in _PLACES
    }


def _named(measures: Mapping[str, str]) -> str:
    by_name: dict[str, list[str]] = {}
    for words, name in measures.items():
        by_name.setdefault(name, []).append(words)
    return " | ".join(
        f"({' | '.join(words)}) {{measure={name}}}" for name, words in by_name.items()
    )


def _rule(name: str, choices: Iterator[str] | Sequence[str], fallback: str = _FALLBACK) -> str:
    said = "\n  | ".join(choices) or fallback
    return f"public <{name}> = {said};"
