"""How large the figures of small engines and outdoor equipment usually are, so that one far from it
is asked about: "28" of a gap in inches, where thou was meant.

The ranges are wide on purpose: they hold for a string trimmer as for a sit-on mower, and what lies
outside is mostly another unit, a decimal point elsewhere, or a figure in the wrong row. Nothing is
refused by them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal

from companion.files.toml_lines import Location
from companion.handbook.answer import NotInHandbook
from companion.handbook.convert import plain
from companion.handbook.thread import parse_size
from companion.handbook.torque import METRIC_GRADES, SAE_J429, torque_for
from companion.handbook.unit_table import UNITS
from companion.handbook.units import convert, dimension, written
from companion.job.card import JobCard
from companion.job.sheet import SpecReading, SpecSheet, SpecTorque
from companion.job.sheet_measures import belt_measure, tire_measure, torque_measure
from companion.shelf.fault import Fault

COMMON = "common practice"


@dataclass(frozen=True, slots=True)
class Usual:
    """How large figures of one kind usually are.

    Attributes:
        names: Whole names of measures or fluids, or how they end; empty: every one of the
            dimension of ``unit``.
        unit: Of both ends.
        low: Lower end.
        high: Upper end.
        source: Where the range is from.
    """

    names: tuple[str, ...]
    unit: str
    low: str
    high: str
    source: str = COMMON


MEASURES = (
    Usual(("knife clearance", "anvil clearance", "bed clearance"), "thou", "5", "250"),
    Usual(("intake clearance", "exhaust clearance", "valve clearance", "lash"), "thou", "1", "25"),
    Usual(("coil gap", "air gap", "armature gap"), "thou", "4", "60"),
    Usual(("point gap", "points gap", "breaker gap"), "thou", "6", "30"),
    Usual(("=gap", "plug gap"), "thou", "15", "60"),
    Usual(("play",), "thou", "0.5", "500"),
    Usual(("deflection",), "inch", "0.1", "2"),
    Usual(("runout", "run out"), "thou", "0.5", "200"),
    Usual((), "meter", "0.00001", "10"),
    Usual(("crankcase pressure",), "psi", "1", "25"),
    Usual(("pump pressure", "washer pressure"), "psi", "200", "6000"),
    Usual(("tire pressure",), "psi", "3", "100"),
    Usual(("oil pressure",), "psi", "2", "120"),
    Usual(("compression",), "psi", "20", "300"),
    Usual((), "psi", "0.1", "6000"),
    Usual(("plug torque",), "newton meter", "5", "45"),
    Usual((), "newton meter", "0.3", "500"),
    Usual(("air temperature",), "celsius", "-40", "60"),
    Usual((), "celsius", "-40", "900"),
    Usual(("battery",), "volt", "1", "100"),
    Usual(("output voltage",), "volt", "5", "520"),
    Usual(("charging voltage",), "volt", "3", "120"),
    Usual((), "volt", "0.05", "1000"),
    Usual(("primary resistance",), "ohm", "0.05", "10"),
    Usual(("resistance",), "ohm", "0.05", "50000"),
    Usual((), "ohm", "0.01", "10000000"),
    Usual(("idle speed",), "rpm", "600", "5000"),
    Usual(("engine speed", "governed speed", "full speed"), "rpm", "1000", "16000"),
    Usual((), "rpm", "1", "30000"),
    Usual((), "percent", "0.5", "100"),
    Usual(("output frequency",), "hertz", "45", "420"),
    Usual((), "hertz", "0.5", "1000"),
    Usual(("charging current",), "amp", "0.02", "100"),
    Usual((), "amp", "0.0001", "400"),
    Usual((), "turn", "0.1", "20"),
    Usual(("engine hours",), "hour", "0.1", "30000"),
    Usual((), "second", "0.05", "4000000"),
    Usual((), "watt", "1", "60000"),
)
"""By measure; the first row that fits decides, and the rows without a name hold for every other
measure of that dimension. All of it common practice, from memory."""

FLUIDS = (
    Usual(("=oil", "engine oil", "motor oil"), "liter", "0.05", "4"),
    Usual(("gear oil", "transmission oil", "gearbox oil", "pump oil"), "liter", "0.01", "10"),
    Usual(("bar oil", "chain oil"), "liter", "0.05", "2"),
    Usual(("fuel", "gas", "petrol", "gasoline", "diesel"), "liter", "0.1", "80"),
    Usual(("grease",), "liter", "0.001", "2"),
    Usual((), "liter", "0.005", "80"),
)
"""Capacities by fluid; common practice, from memory."""

MIX = Usual((), "", "10", "100")
"""Parts of fuel to one of oil; common practice, from memory: 16 of old engines to 100."""

HOURS = Usual((), "hour", "1", "3000")
"""Every so many engine hours."""

MONTHS = Usual((), "", "1", "120")
"""Every so many months."""

VOLTS = Usual((), "volt", "1", "100")
"""Of a battery."""

AMPERE_HOURS = Usual((), "", "0.5", "300")
"""Of a battery."""

WAIT = Usual((), "minute", "0.1", "2880")
"""Of a step's timer: two days."""

LOOSEST, TIGHTEST = Decimal("0.2"), Decimal("1.6")
"""Shares of the usual torque of a thread between which makers' figures lie; our own figures, so
that a gasket in the joint and a special bolt are both believed."""


def usual_of(measure: str, unit: str) -> Usual | None:
    """Return how large a measure usually is, or None where nothing is known.

    Args:
        measure: Its name; with or without the cylinder.
        unit: In which the sheet has it.
    """
    return _first(MEASURES, measure, unit)


def _first(rows: Iterable[Usual], name: str, unit: str) -> Usual | None:
    if unit not in UNITS:
        return None
    bare = re.sub(r" (of )?cylinder .*$", "", name)
    for row in rows:
        fits = not row.names or any(
            bare == each.removeprefix("=")
            or (not each.startswith("=") and bare.endswith(f" {each}"))
            for each in row.names
        )
        if fits and dimension(row.unit) == dimension(unit):
            return row
    return None


def sheet_questions(sheet: SpecSheet) -> Iterator[Fault]:
    """Ask about every figure of a sheet that is far from the usual for its kind."""
    for index, reading in enumerate(sheet.reading):
        yield from _window(("reading", index), reading)
    for index, torque in enumerate(sheet.torque):
        asked = [*_window(("torque", index), torque_measure(torque))]
        yield from asked or _by_thread(("torque", index), torque)
    for index, tire in enumerate(sheet.tire):
        yield from _window(("tire", index), tire_measure(tire), "tire pressure")
    for index, belt in enumerate(sheet.belt):
        yield from _window(("belt", index), belt_measure(belt), "deflection")
    for index, fluid in enumerate(sheet.fluid):
        at: Location = ("fluid", index)
        if fluid.capacity is not None and fluid.unit is not None:
            row = _first(FLUIDS, fluid.name, fluid.unit)
            yield from _asked(at, "capacity", fluid.capacity, fluid.unit, row, fluid.name)
        yield from _asked(at, "mix", fluid.mix, "", MIX, "two-stroke fuel")
    if sheet.battery is not None:
        yield from _asked(("battery",), "volts", sheet.battery.volts, "volt", VOLTS, "a battery")
        yield from _asked(
            ("battery",), "ampere_hours", sheet.battery.ampere_hours, "", AMPERE_HOURS, "a battery"
        )
    for index, service in enumerate(sheet.service):
        at = ("service", index)
        for key in ("first_hours", "hours"):
            yield from _asked(at, key, getattr(service, key), "hour", HOURS, "a service")
        months = None if service.months is None else Decimal(service.months)
        yield from _asked(at, "months", months, "", MONTHS, "a service")


def card_questions(card: JobCard) -> Iterator[Fault]:
    """Ask about every figure of a card that is far from the usual for its kind."""
    for index, step in enumerate(card.step):
        for place, window in enumerate(step.windows):
            row = usual_of(window.measure, window.unit)
            at: Location = ("step", index, "windows", place)
            for key in ("low", "high"):
                figure = getattr(window, key)
                yield from _asked(at, key, figure, window.unit, row, window.measure)
        if step.wait is not None:
            minutes = Decimal(str(step.wait.minutes))
            at = ("step", index, "wait")
            yield from _asked(at, "minutes", minutes, "minute", WAIT, f"'{step.wait.timer}'")


def _window(at: Location, reading: SpecReading, name: str | None = None) -> Iterator[Fault]:
    row = usual_of(name or reading.measure, reading.unit)
    for key in ("low", "high"):
        yield from _asked(at, key, getattr(reading, key), reading.unit, row, reading.measure)


def _asked(
    at: Location, key: str, value: Decimal | None, unit: str, row: Usual | None, of: str
) -> Iterator[Fault]:
    """The question about one figure; none where it is usual, nought or not known."""
    if value is None or row is None or not value.is_finite():
        return
    if value == 0 and dimension(unit) != "temperature" if unit else value == 0:
        return
    low, high = Decimal(row.low), Decimal(row.high)
    if unit and unit != row.unit:
        low, high = convert(low, row.unit, unit), convert(high, row.unit, unit)
    if low <= value <= high:
        return
    figures = f"{_figure(low)} to {_figure(high)}"
    symbol = f" {written(unit)}" if unit else ""
    yield Fault(
        (*at, key),
        f"'{key}' is {plain(value)}{symbol}, far from the usual of {of}, {figures}{symbol} "
        f"({row.source}); is the unit or the decimal point right?",
    )


def _by_thread(at: Location, torque: SpecTorque) -> Iterator[Fault]:
    """The question about a torque that the thread cannot bear by the handbook's tables."""
    if torque.thread is None or torque.unit not in UNITS or torque.fastener.endswith("plug"):
        return
    found = _usual_torques(torque)
    if not found:
        return
    low, high = min(found) * LOOSEST, max(found) * TIGHTEST
    ends = [convert(end, "newton meter", torque.unit) for end in (low, high)]
    for key in ("low", "high"):
        value = getattr(torque, key)
        if value is not None and value != 0 and not ends[0] <= value <= ends[1]:
            figures = " to ".join(_figure(end) for end in ends)
            yield Fault(
                (*at, key),
                f"'{key}' is {plain(value)} {written(torque.unit)}, far from the usual of "
                f"{torque.thread}, {figures} {written(torque.unit)} (75 percent of proof load, SAE "
                "J429 and ISO 898-1, widely taken); is the unit or the decimal point right?",
            )


def _usual_torques(torque: SpecTorque) -> list[Decimal]:
    """Usual torques of a thread in newton meters, oiled and dry, of its grade or of all grades."""
    assert torque.thread is not None
    try:
        size, unit, pitch = parse_size(torque.thread)
    except NotInHandbook:
        return []
    grades = (torque.grade,) if torque.grade else (*SAE_J429, *METRIC_GRADES)
    found = []
    for grade in grades:
        for condition in ("dry", "oiled"):
            try:
                usual = torque_for(size, unit, grade, condition, pitch)
            except NotInHandbook:
                continue
            found.append(Decimal(str(usual.newton_meters)))
    return found


def _figure(value: Decimal) -> str:
    """The end of a range in three significant figures; it is no more exact than that."""
    return plain(Decimal(f"{value:.3g}"))
