"""Engine oil by the coldest start, and what SAE J300 has behind the grades."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from companion.handbook.answer import HandbookAnswer, NotInHandbook
from companion.handbook.convert import plain, spoken_quantity
from companion.handbook.rounding import to_step
from companion.handbook.units import UnitsDoNotFit, convert, dimension


@dataclass(frozen=True, slots=True)
class WinterGrade:
    """One W grade of SAE J300.

    Attributes:
        name: ``5W``.
        cranks_at: Lowest temperature, °C, at which the cranking limit is tested.
        cranking: Highest viscosity there, mPa·s.
        pumps_at: Lowest temperature, °C, at which the pumping limit of 60 000 mPa·s is tested.
    """

    name: str
    cranks_at: int
    cranking: int
    pumps_at: int


SAE_J300 = (
    WinterGrade("0W", -35, 6200, -40),
    WinterGrade("5W", -30, 6600, -35),
    WinterGrade("10W", -25, 7000, -30),
    WinterGrade("15W", -20, 7000, -25),
    WinterGrade("20W", -15, 9500, -20),
    WinterGrade("25W", -10, 13000, -15),
)
"""SAE J300, low-temperature cranking and pumping limits of the W grades, from memory."""


@dataclass(frozen=True, slots=True)
class RunningGrade:
    """One grade of SAE J300 for a hot engine: the second number of a multigrade, or a single grade.

    Attributes:
        name: ``30``.
        least: Lowest kinematic viscosity at 100 °C, mm²/s.
        below: The viscosity there must be below this, mm²/s.
        high_shear: Lowest viscosity at 150 °C and high shear, mPa·s.
    """

    name: str
    least: float
    below: float
    high_shear: float


SAE_J300_RUNNING = (
    RunningGrade("20", 6.9, 9.3, 2.6),
    RunningGrade("30", 9.3, 12.5, 2.9),
    RunningGrade("40", 12.5, 16.3, 3.5),
    RunningGrade("50", 16.3, 21.9, 3.7),
    RunningGrade("60", 21.9, 26.1, 3.7),
)
"""SAE J300, limits at running temperature, from memory; for 40, of 0W-40, 5W-40 and 10W-40."""


@dataclass(frozen=True, slots=True)
class Season:
    """Grades that are usual in small engines over a range of temperatures.

    Attributes:
        lowest: The coldest, in ``unit``.
        unit: ``celsius`` or ``fahrenheit``, as charts and standards draw the line.
        grades: The usual one first.
    """

    lowest: int
    unit: str
    grades: tuple[str, ...]


SMALL_ENGINE_PRACTICE = (
    Season(40, "fahrenheit", ("SAE 30", "10W-30")),
    Season(0, "fahrenheit", ("5W-30", "10W-30")),
    Season(-30, "celsius", ("5W-30",)),
    Season(-35, "celsius", ("0W-30",)),
)
"""Common practice for four-stroke engines of outdoor power equipment, the warmest first.

40 °F (about 4 °C) and 0 °F are the lines of makers' charts: a single grade has no limit in the cold
and is kept above the first. Each W grade still cranks at the coldest of its range by ``SAE_J300``.
"""

COLDEST, HOTTEST = -60, 50
"""Air temperatures, °C, outside which nobody services an engine."""


@dataclass(frozen=True, slots=True)
class OilAnswer(HandbookAnswer):
    """Oil for a temperature.

    Attributes:
        temperature: As asked.
        unit: ``celsius`` or ``fahrenheit``.
        grades: The usual one first; empty where no grade is specified to crank.
        cranks: W grades of SAE J300 that still crank there, the thickest last.
    """

    temperature: Decimal
    unit: str
    grades: tuple[str, ...]
    cranks: tuple[str, ...]


def oil_for(temperature: Decimal, unit: str) -> OilAnswer:
    """Name the usual oil for the coldest temperature at which the engine must start.

    Args:
        temperature: Of the air, in ``unit``.
        unit: A unit of temperature.

    Raises:
        UnknownUnit: On an unknown unit.
        UnitsDoNotFit: If the unit is none of temperature.
        NotInHandbook: If no air is that cold or hot.
    """
    if dimension(unit) != "temperature":
        raise UnitsDoNotFit(f"Oil goes by the temperature outside, not by {unit}.")
    celsius = convert(temperature, unit, "celsius") if temperature.is_finite() else temperature
    if not (celsius.is_finite() and COLDEST <= celsius <= HOTTEST):
        raise NotInHandbook(
            f"No engine is started in such air; the handbook takes {COLDEST} to {HOTTEST} "
            "degrees celsius."
        )
    grades = next(
        (
            season.grades
            for season in SMALL_ENGINE_PRACTICE
            # A thermometer shows no more places, and a converted limit would differ from itself in
            # the last one.
            if to_step(convert(temperature, unit, season.unit), "0.001") >= season.lowest
        ),
        (),
    )
    said = spoken_quantity(temperature, unit)
    if not grades:
        coldest = plain(convert(Decimal(SAE_J300[0].cranks_at), "celsius", unit))
        text = f"{said}: no oil is tested to crank below {coldest}. Warm the engine first."
    else:
        too_thick = "" if "SAE 30" in grades else ", not SAE 30"
        text = f"{said}: {' or '.join(grades)}{too_thick}. The maker's grade wins."
    return OilAnswer(
        text=text,
        source=(
            "SAE J300 cranking limits, from memory; usual grades of small engines are common "
            "practice"
        ),
        temperature=temperature,
        unit=unit,
        grades=grades,
        cranks=tuple(grade.name for grade in SAE_J300 if celsius >= grade.cranks_at),
        note=(
            f"{' '.join(map(_limits, grades))} Take the coldest start until the next change. "
            "In hot weather a multigrade is used up faster than SAE 30. Two-stroke engines, "
            "gearboxes and hydraulics have oils of their own."
        ),
    )


def _limits(grade: str) -> str:
    """What SAE J300 has behind a grade, in a sentence."""
    winter, _, running = grade.rpartition("-")
    running = running.removeprefix("SAE ")
    hot = next(each for each in SAE_J300_RUNNING if each.name == running)
    thickness = f"{hot.least:g} to {hot.below:g} mm²/s at 100 °C"
    cold = next((each for each in SAE_J300 if each.name == winter), None)
    if cold is None:
        return f"{grade} has {thickness} and no limit in the cold: not below 40 °F, about 4 °C."
    return f"{grade} cranks down to {cold.cranks_at} °C and has {thickness}."
