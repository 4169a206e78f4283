"""A reading beside others: the machine's last one, the one before it, the other cylinder, and how
warm the engine should be for it.

None of this changes a verdict. It is what a careful person would notice, and is said only where the
difference is more than instrument and hand explain.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from types import MappingProxyType
from typing import Literal

from companion.handbook.convert import plain, rounded
from companion.handbook.units import convert, dimension, to_si
from companion.job import events as ev
from companion.job.days_apart import days_between
from companion.job.heat import is_hot
from companion.job.judge import Judgement
from companion.job.ledger import Places
from companion.job.read_before import earlier_of
from companion.job.remark import Apart, Changed, EngineNotAsWanted, LastTime, Remark
from companion.job.sheet import SpecReading
from companion.job.state import State
from companion.job.state_values import Fact


@dataclass(frozen=True, slots=True)
class Difference:
    """How far two values of a kind must be apart to be worth mentioning.

    Attributes:
        share: Of the higher one.
        least: In SI; a smaller difference may be the instrument's.
    """

    share: Decimal
    least: Decimal

    def is_worth_saying(self, one: Decimal, other: Decimal) -> bool:
        """Whether two values, in SI, are this far apart."""
        apart = abs(one - other)
        return apart > self.least and apart > self.share * max(abs(one), abs(other))


PRESSURES = Difference(Decimal("0.1"), Decimal(20_000))
"""Cylinders within a tenth of one another are common practice; 20 kPa (3 psi) is our own figure."""

LENGTHS = Difference(Decimal("0.15"), Decimal("0.000038"))
"""A leaf of a feeler gauge and a half, 1.5 thou; our own figures, as all below."""

AGAIN: Mapping[str, Difference] = MappingProxyType(
    {
        "pressure": PRESSURES,
        "length": LENGTHS,
        "resistance": Difference(Decimal("0.15"), Decimal(0)),
        "percent": Difference(Decimal(0), Decimal("0.05")),
    }
)
"""By dimension, from where on a reading disagrees with the one just before. Speeds, volts and
temperatures move by themselves, and a torque is called of one bolt after the other."""

SINCE_LAST_TIME: Mapping[str, Difference] = MappingProxyType(
    {
        **AGAIN,
        "speed": Difference(Decimal("0.05"), Decimal(50)),
        "voltage": Difference(Decimal("0.03"), Decimal("0.2")),
    }
)
"""By dimension, from where on a change since the machine's last session is worth saying."""

_WHICH_ONE = frozenset(
    {"cylinder", "number", "left", "right", "front", "rear"}
    | {"one", "two", "three", "four", "five", "six", "seven", "eight"}
)
"""Words that only say which cylinder a measure is of."""


def remarks(
    state: State,
    measure: str,
    value: Decimal,
    unit: str,
    *,
    judgement: Judgement,
    spec: SpecReading | None,
    at: datetime,
    corrects: int | None = None,
) -> tuple[Remark, ...]:
    """Return what is worth saying of a reading besides its verdict, the weightiest first.

    Args:
        state: Before the reading.
        measure: What was measured.
        value: In ``unit``.
        unit: As called.
        judgement: Its verdict.
        spec: What the sheet says of the measure, or None.
        at: When it was called.
        corrects: Number of the reading in whose place it stands; that one is compared with
            nothing.
    """
    found = [
        *_engine(state, spec, at),
        *_other_cylinder(state, corrects, measure, value, unit),
        *_just_before(state, corrects, measure, value, unit, judgement),
    ]
    last = earlier_of(state, measure)
    if last is None or dimension(last.unit) != dimension(unit):
        return tuple(found)
    days = days_between(last.at, at)
    if dimension(unit) == "time":
        return tuple(_ran_backwards(last, value, unit, days))
    if judgement.verdict == "unknown":
        found.append(LastTime(value=last.value, unit=last.unit, at=last.at, days=days))
    elif not _change_told(state, measure, corrects):
        found.extend(_change(last, value, unit, judgement, days))
    return tuple(found)


def change_since_last_time(state: State, fact: Fact[ev.ReadingRecorded]) -> Changed | None:
    """Return how a reading differs from the machine's last one before this session, where that is
    worth saying, whether or not it was said; None otherwise."""
    event, last = fact.event, earlier_of(state, fact.event.measure)
    if last is None or dimension(last.unit) != dimension(event.unit):
        return None
    judgement = Judgement(event.verdict, event.window, event.beyond)
    days = days_between(last.at, fact.at)
    return next(_change(last, event.value, event.unit, judgement, days), None)


def engine_wanted(spec: SpecReading | None) -> Literal["cold", "hot"] | None:
    """Return how warm the engine must be for a figure, or None where the sheet does not say."""
    if spec is None:
        return None
    if spec.engine is not None:
        return spec.engine
    words = set(re.findall(r"[a-z]+", (spec.condition or "").lower()))
    if "cold" in words:
        return "cold"
    return "hot" if words & {"hot", "warm"} else None


def family(measure: str) -> str | None:
    """Return what a measure of one of several cylinders is a measure of, or None if it is none.

    "Cylinder two compression" and "compression one" are both of "compression".
    """
    words = measure.split()
    kept = [word for word in words if word not in _WHICH_ONE and not word.isdigit()]
    return " ".join(kept) if 0 < len(kept) < len(words) else None


def _engine(state: State, spec: SpecReading | None, at: datetime) -> Iterator[Remark]:
    wanted = engine_wanted(spec)
    if wanted is not None and is_hot(state, at) != (wanted == "hot"):
        yield EngineNotAsWanted(wanted=wanted)


def _other_cylinder(
    state: State, corrects: int | None, measure: str, value: Decimal, unit: str
) -> Iterator[Remark]:
    """The other cylinder that this one is furthest from, if that is far."""
    name = family(measure)
    if name is None or dimension(unit) != "pressure":
        return
    latest = (
        _last_but(state.readings.about(other), corrects)
        for other in state.readings.names
        if other != measure and family(other) == name
    )
    apart = [
        _apart(fact.event, value, unit, other=fact.event.measure)
        for fact in latest
        if fact is not None and _far(AGAIN, fact.event.value, fact.event.unit, value, unit)
    ]
    if apart:
        yield max(apart, key=lambda remark: remark.percent)


def _just_before(
    state: State,
    corrects: int | None,
    measure: str,
    value: Decimal,
    unit: str,
    judgement: Judgement,
) -> Iterator[Remark]:
    """The same measure called just before, where nothing was called in between that explains the
    difference."""
    before = _last_but(state.readings.counting, corrects)
    if before is None or before.event.measure != measure:
        return
    worked = any(fact.place > before.place for fact in state.work.counting[-1:])
    filled = any(fact.place > before.place for fact in state.fluids.counting[-1:])
    if worked or filled:
        return
    put_right = before.event.verdict in ("low", "high") and judgement.verdict == "in"
    if not put_right and _far(AGAIN, before.event.value, before.event.unit, value, unit):
        yield _apart(before.event, value, unit)


def _apart(
    before: ev.ReadingRecorded, value: Decimal, unit: str, *, other: str | None = None
) -> Apart:
    there = convert(before.value, before.unit, unit)
    percent = abs(there - value) / max(abs(there), abs(value)) * 100
    return Apart(other=other, value=_said(there, unit, before.unit), percent=round(percent))


def _change(
    last: ev.EarlierReading, value: Decimal, unit: str, judgement: Judgement, days: int
) -> Iterator[Changed]:
    before = convert(last.value, last.unit, unit)
    by = value - before
    no_longer_in = last.verdict == "in" and judgement.verdict in ("low", "high")
    worth_it = _far(SINCE_LAST_TIME, last.value, last.unit, value, unit) or (
        no_longer_in and dimension(unit) in SINCE_LAST_TIME
    )
    by_said = _said(by, unit, last.unit)
    if worth_it and by_said:
        yield Changed(before=_said(before, unit, last.unit), by=by_said, at=last.at, days=days)


def _ran_backwards(
    last: ev.EarlierReading, value: Decimal, unit: str, days: int
) -> Iterator[Remark]:
    """Whether an hour meter shows less than last time: it was misread, or is another meter."""
    before = convert(last.value, last.unit, unit)
    if value < before:
        yield Changed(
            before=_said(before, unit, last.unit),
            by=_said(value - before, unit, last.unit),
            at=last.at,
            days=days,
        )


def _last_but(
    facts: Places[Fact[ev.ReadingRecorded]], corrects: int | None
) -> Fact[ev.ReadingRecorded] | None:
    return next((fact for fact in reversed(facts) if fact.seq != corrects), None)


def _change_told(state: State, measure: str, corrects: int | None) -> bool:
    """Whether another reading that counts tells how the measure changed since last time."""
    told = state.readings.about(measure).fold("change told", 0, _count_told)
    corrected = None if corrects is None else state.fact(corrects)
    own = (
        corrected is not None
        and corrected.seq not in state.superseded
        and (getattr(corrected.event, "measure", None) == measure and _tells_change(corrected))
    )
    return told > own


def _count_told(count: int, fact: Fact[ev.ReadingRecorded]) -> int:
    return count + _tells_change(fact)


def _tells_change(fact: Fact[ev.ReadingRecorded]) -> bool:
    return any(remark.about == "changed" for remark in fact.event.remarks)


def _far(
    differences: Mapping[str, Difference], one: Decimal, in_one: str, other: Decimal, in_other: str
) -> bool:
    known = differences.get(dimension(in_other))
    if known is None or dimension(in_one) != dimension(in_other):
        return False
    return known.is_worth_saying(to_si(one, in_one)[0], to_si(other, in_other)[0])


def _said(value: Decimal, unit: str, called_in: str) -> Decimal:
    """The difference: exact where both were called in one unit, else rounded to what is worth
    saying."""
    return Decimal(plain(value)) if unit == called_in else rounded(value, unit)
