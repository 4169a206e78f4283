"""Engine oil by the coldest temperature it must start at."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from companion.handbook.answer import HandbookAnswer, NotInHandbook
from companion.handbook.convert import plain, spoken_quantity
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
class Season:
    """Grades that are usual in small engines over a range of temperatures.

    Attributes:
        from_celsius: The coldest, °C.
        grades: The usual one first.
    """

    from_celsius: int
    grades: tuple[str, ...]


SMALL_ENGINE_PRACTICE = (
    Season(5, ("SAE 30", "10W-30")),
    Season(-18, ("5W-30", "10W-30")),
    Season(-30, ("5W-30",)),
    Season(-35, ("0W-30",)),
)
"""Common practice for four-stroke engines of outdoor power equipment, the warmest first.

5 °C and −18 °C are the 40 °F and 0 °F of makers' charts. Each W grade here still cranks at the
coldest of its range by ``SAE_J300``.
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
    grades = next((s.grades for s in SMALL_ENGINE_PRACTICE if celsius >= s.from_celsius), ())
    said = spoken_quantity(temperature, unit)
    if not grades:
        coldest = plain(convert(Decimal(SAE_J300[0].cranks_at), "celsius", unit))
        text = f"{said}: no oil is tested to crank below {coldest}. Warm the engine first."
    else:
        too_thick = "" if "SAE 30" in grades else ", not SAE 30"
        text = f"{said}: {' or '.join(grades)}{too_thick}. The maker's grade wins."
    return OilAnswer(
        text=text,
        source="SAE J300 cranking limits; usual grades of small engines are common practice",
        temperature=temperature,
        unit=unit,
        grades=grades,
        cranks=tuple(grade.name for grade in SAE_J300 if celsius >= grade.cranks_at),
        note=(
            "Take the coldest start until the next change. In hot weather a multigrade is used up "
            "faster than SAE 30. Two-stroke engines, gearboxes and hydraulics have oils of their "
            "own."
        ),
    )
