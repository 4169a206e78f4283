"""Filling: how much of what the sheet says is in, how much more at most, and what to pour in.

A sheet's capacity is of a dry sump; some always stays behind in a draining, so that the last of it
goes in by the level and not by the measure.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_DOWN, Decimal

from companion.handbook.convert import rounded
from companion.handbook.unit_table import UNITS, OunceSystem
from companion.handbook.units import convert, from_si, to_si
from companion.intent.outcome import Expectation
from companion.job import fluids
from companion.job.sheet import SpecFluid, SpecGrade
from companion.job.state import State

FIRST_SHARE = Decimal("0.9")
"""Of the capacity, poured in before the level is looked at for the first time (common practice)."""

NEARLY_SHARE = Decimal("0.9")
"""From this share of the capacity on, what is left is said as the most that may go in."""

AT_LINE_SHARE = Decimal("0.005")
"""This near to the capacity, on either side, nothing is said to be missing or too much. Our own
figure: no measuring cup shows a two-hundredth of what it holds."""

LEAST_EXPECTED_SHARE = Decimal("0.125")
"""Of the capacity: less than this is never called too much to be believed. Our own figure."""

AIR = "air temperature"
"""The measure that says how cold it is."""


@dataclass(frozen=True, slots=True)
class Fill:
    """How far a fluid is filled that was drained before.

    Attributes:
        fluid: Its name.
        filled: In ``unit``, rounded.
        capacity: In ``unit``, rounded.
        left: To the capacity, in ``unit``, rounded; negative when over, zero at the line.
        percent: Filled, of the capacity.
        unit: To say it in; with whose ounce it is where that could be mistaken.
    """

    fluid: str
    filled: Decimal
    capacity: Decimal
    left: Decimal
    percent: int
    unit: str

    @property
    def nearly(self) -> bool:
        """Whether little more may go in."""
        return self.left > 0 and self.percent >= NEARLY_SHARE * 100


def fill_of(state: State, fluid: str, unit: str | None = None) -> Fill | None:
    """Return how far a fluid is filled; None where it was not drained or has no known capacity.

    Args:
        state: After the last call.
        fluid: Its name.
        unit: To say it in; the one used last if None.
    """
    now = fluids.balance(state, fluid)
    capacity = capacity_of(state, fluid)
    if capacity is None or not now.emptied:
        return None
    unit = unit_said(state, fluid, unit)
    left = capacity - now.filled
    if abs(left) <= AT_LINE_SHARE * capacity:
        left = Decimal(0)
    return Fill(
        fluid=fluid,
        filled=in_unit(state, now.filled, unit),
        capacity=in_unit(state, capacity, unit),
        left=in_unit(state, left, unit),
        percent=int((now.filled / capacity * 100).to_integral_value()),
        unit=unit,
    )


def first_fill(state: State, fluid: str, unit: str | None = None) -> Decimal | None:
    """Return how much to pour in first, in ``unit_said``; None where the capacity is not known.

    About nine tenths, rounded down to two digits: the rest by the dipstick.

    Args:
        state: The job.
        fluid: Its name.
        unit: To be taken as called last; None for that of the log.
    """
    capacity = capacity_of(state, fluid)
    if capacity is None:
        return None
    share = from_si(capacity * FIRST_SHARE, unit_said(state, fluid, unit), ounce=state.ounce)
    # A value that was cut after 28 digits must not turn 18 into 17.
    share = share.quantize(Decimal(1).scaleb(share.adjusted() - 9))
    return share.quantize(Decimal(1).scaleb(share.adjusted() - 1), ROUND_DOWN)


def first_fill_awaited(state: State, fluid: str) -> bool:
    """Whether a fluid was drained just now for the first time since it was filled. Letting a little
    out down to the mark is no draining."""
    now = fluids.balance(state, fluid)
    if not now.emptied or now.filled > 0:
        return False
    last_two = [fact.event.action for fact in state.fluids.about(fluid)[-2:]]
    return last_two[-1:] == ["drained"] and last_two != ["drained", "drained"]


def creeps(spec: SpecFluid) -> bool:
    """Whether the last of a fluid goes in by its level; a fuel tank is just filled."""
    return spec.name != "fuel" and spec.mix is None


def filled_by(spec: SpecFluid) -> str:
    """Return by what the last of a fluid is filled: "dipstick", "level"."""
    return spec.check or "level"


# --- whose ounce --------------------------------------------------------------------------------


def ounce_in_doubt(spec: SpecFluid | None, ounce: OunceSystem) -> bool:
    """Whether the sheet's ounces may be taken for the shop's.

    They are where the sheet names the other system, and where it names none and the shop's is not
    that of most sheets, the US one.
    """
    if spec is None or spec.unit is None:
        return False
    for system in ("us", "imperial"):
        if spec.unit.startswith(f"{system} "):
            return system != ounce
    return ounce == "imperial" and f"imperial {spec.unit}" in UNITS


def unit_said(state: State, fluid: str, unit: str | None = None) -> str:
    """Return the unit to say a volume of a fluid in: as called last, else the sheet's.

    The shop's ounce, never the sheet's, so that sums are in one unit; with "US" or "imperial" where
    there is doubt.

    Args:
        state: The job.
        fluid: Its name.
        unit: To be taken as called last; None for that of the log.
    """
    spec = fluids.spec_of(state, fluid)
    if unit is None:
        moves = state.fluids.about(fluid)
        unit = moves[-1].event.unit if moves else (spec and spec.unit) or "ounce"
    plain_unit = unit.removeprefix("us ").removeprefix("imperial ")
    whose = f"{state.ounce} {plain_unit}"
    if whose not in UNITS:
        return unit
    return whose if ounce_in_doubt(spec, state.ounce) else plain_unit


def of_the_sheet(state: State, fluid: str) -> tuple[Decimal, str] | None:
    """Return the capacity as the sheet has it, where its ounces are not the shop's; else None."""
    spec = fluids.spec_of(state, fluid)
    if spec is None or spec.capacity is None or spec.unit is None:
        return None
    if not spec.unit.startswith(("us ", "imperial ")) or not ounce_in_doubt(spec, state.ounce):
        return None
    return spec.capacity, spec.unit


def in_unit(state: State, volume: Decimal, unit: str) -> Decimal:
    """Return a volume in cubic meters in a unit, rounded to what is worth saying.

    Args:
        state: The job.
        volume: In cubic meters.
        unit: A unit's name.
    """
    return rounded(from_si(volume, unit, ounce=state.ounce), unit)


def capacity_of(state: State, fluid: str) -> Decimal | None:
    """Return what the sheet says a fluid takes, in cubic meters, or None."""
    spec = fluids.spec_of(state, fluid)
    if spec is None or spec.capacity is None or spec.unit is None:
        return None
    return to_si(spec.capacity, spec.unit, ounce=state.ounce)[0]


# --- what to expect of the next filling ---------------------------------------------------------


def expected_of_fluids(state: State) -> dict[str, Expectation]:
    """Return the most that is believed of one filling, by fluid, for those being filled.

    "Twenty" where two are left is doubted, though the whole machine takes twenty.
    """
    expected = {}
    for name in state.fluids.names:
        capacity = capacity_of(state, name)
        now = fluids.balance(state, name)
        if capacity is not None and now.emptied and now.filled > 0:
            most = max(capacity - now.filled, LEAST_EXPECTED_SHARE * capacity)
            expected[name] = Expectation(low=None, high=float(most), unit="m3")
    return expected


# --- which grade --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Air:
    """How cold it is, or will be: called as a reading, or set for the shop."""

    value: Decimal
    unit: str


def air(state: State) -> Air | None:
    """Return the air temperature called last, else the one that the shop expects, else None."""
    called = state.readings.about(AIR)
    if called:
        return Air(called[-1].event.value, called[-1].event.unit)
    if state.air_temperature is not None:
        return Air(state.air_temperature, "celsius")
    return None


def coldest_first(spec: SpecFluid) -> tuple[SpecGrade, ...]:
    """Return the grades of a fluid from the coldest range up."""
    lowest = Decimal("-Infinity")
    return tuple(sorted(spec.grades, key=lambda grade: lowest if grade.low is None else grade.low))


def grade_at(spec: SpecFluid, temperature: Air) -> SpecGrade | None:
    """Return the grade for a temperature, or None where the sheet has none so cold or hot.

    Where two ranges meet, the warmer one counts; the end of the last one belongs to it.
    """
    found = None
    for grade in coldest_first(spec):
        value = convert(temperature.value, temperature.unit, grade.unit)
        above = grade.low is None or value >= grade.low
        if above and (grade.high is None or value <= grade.high):
            found = grade
    return found


def grade_to_fill(state: State, spec: SpecFluid) -> str | None:
    """Return the grade to pour in, where the sheet and the air temperature tell."""
    if not spec.grades:
        return spec.grade
    temperature = air(state)
    found = None if temperature is None else grade_at(spec, temperature)
    return None if found is None else found.grade
