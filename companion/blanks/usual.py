"""What is usually measured, filled and tightened on small machines, with examples of figures.

The figures are examples of a usual size, common practice, and stand in a new sheet only behind a
"#": nobody knows a machine's figures but its manual.
"""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType
from typing import Literal

from companion.blanks.lines import Value

System = Literal["inches", "metric"]
"""Which units a shop likes: inches, pounds and ounces, or millimeters, newton meters and liters."""

Cycle = Literal["four-stroke", "two-stroke", "electric"]
"""How the engine works, as a sheet has it."""


@dataclass(frozen=True, slots=True)
class Window:
    """An example of a window.

    Attributes:
        unit: A unit's name from ``companion.handbook.units``.
        low: Lower end in ``unit``, or None where there is none.
        high: Upper end in ``unit``, or None where there is none.
    """

    unit: str
    low: Decimal | None
    high: Decimal | None


def window(unit: str, low: str | None = None, high: str | None = None) -> Window:
    """Return a window, its ends as they are written.

    Args:
        unit: As units are called: "psi".
        low: The lowest that is wanted, in that unit; None for no such bound.
        high: The highest.
    """
    return Window(
        unit, None if low is None else Decimal(low), None if high is None else Decimal(high)
    )


@dataclass(frozen=True, slots=True)
class Measure:
    """What is measured.

    Attributes:
        inches: An example in the units of a shop that likes inches and pounds.
        metric: The same in metric units.
        what: What it is, in a few words.
        condition: An example of how the machine must be for it.
        engine: Whether the figure is usually for a cold or a hot engine.
    """

    inches: Window
    metric: Window
    what: str
    condition: str = "throttle open"
    engine: Literal["cold", "hot"] = "cold"

    def window(self, system: System) -> Window:
        """Return the example in the units that are liked."""
        return self.inches if system == "inches" else self.metric


def _same(each: Window, what: str, condition: str, engine: Literal["cold", "hot"]) -> Measure:
    return Measure(each, each, what, condition, engine)


MEASURES: Mapping[str, Measure] = MappingProxyType(
    {
        "gap": Measure(
            window("thou", "28", "31"), window("millimeter", "0.7", "0.8"),
            "between the electrodes of the spark plug", "new plug",
        ),
        "coil gap": Measure(
            window("thou", "10", "14"), window("millimeter", "0.25", "0.35"),
            "between ignition coil and flywheel", "magnet under the coil",
        ),
        "intake clearance": Measure(
            window("thou", "4", "6"), window("millimeter", "0.10", "0.15"),
            "at the intake valve", "piston at the top of its compression stroke",
        ),
        "exhaust clearance": Measure(
            window("thou", "6", "8"), window("millimeter", "0.15", "0.20"),
            "at the exhaust valve", "piston at the top of its compression stroke",
        ),
        "compression": Measure(
            window("psi", "90", "150"), window("bar", "6.2", "10.3"),
            "of the cylinder", "throttle open, three good pulls", "hot",
        ),
        "leak down": _same(
            window("percent", None, "20"), "what the cylinder loses", "piston at the top", "hot"
        ),
        "crankcase pressure": Measure(
            window("psi", "6", "7"), window("kilopascal", "40", "50"),
            "that the crankcase holds", "must hold for three minutes",
        ),
        "coil resistance": _same(
            window("kilohm", "2.5", "5"), "of the ignition coil", "wire to ground", "cold"
        ),
        "idle speed": _same(
            window("rpm", "1700", "1900"), "of the engine, throttle closed", "no load", "hot"
        ),
        "engine speed": _same(
            window("rpm", "3450", "3650"), "of the engine, throttle open", "no load", "hot"
        ),
        "battery": _same(
            window("volt", "12.4", "12.9"), "of the battery at rest", "an hour after charging",
            "cold",
        ),
        "charging voltage": _same(
            window("volt", "13.5", "14.7"), "at the battery, engine running", "full throttle", "hot"
        ),
        "motor current": _same(
            window("amp", "3", "12"), "that the motor draws", "no load", "cold"
        ),
        "output voltage": _same(
            window("volt", "114", "126"), "at the outlet", "from no load to full load", "hot"
        ),
        "output frequency": _same(
            window("hertz", "59", "62"), "at the outlet", "from full load to no load", "hot"
        ),
        "pump pressure": Measure(
            window("psi", "2600", "2900"), window("bar", "180", "200"),
            "of the water", "gun open", "hot",
        ),
        "knife clearance": Measure(
            window("thou", "40", "60"), window("millimeter", "1", "1.5"), "from knife to anvil",
            "all knives",
        ),
        "belt deflection": Measure(
            window("inch", "0.25", "0.5"), window("millimeter", "6", "13"),
            "of the drive belt", "thumb pressure at mid span",
        ),
    }
)  # fmt: skip
"""By their names, as they are called."""

TWO_STROKE: Mapping[str, Measure] = MappingProxyType(
    {
        "idle speed": _same(
            window("rpm", "2700", "3100"), "of the engine, throttle closed", "no load", "hot"
        ),
        "engine speed": _same(
            window("rpm", "8500", "9500"), "of the engine, throttle open", "no load", "hot"
        ),
        "compression": Measure(
            window("psi", "110", "160"), window("bar", "7.6", "11"),
            "of the cylinder", "throttle open, five good pulls",
        ),
    }
)  # fmt: skip
"""Those whose figures are others on a small two-stroke engine."""

OF_CYCLE: Mapping[Cycle, tuple[str, ...]] = MappingProxyType(
    {
        "four-stroke": (
            *("gap", "compression", "intake clearance", "exhaust clearance", "coil gap"),
            *("leak down", "idle speed", "engine speed"),
        ),
        "two-stroke": (
            *("gap", "compression", "coil gap", "crankcase pressure"),
            *("idle speed", "engine speed"),
        ),
        "electric": ("motor current",),
    }
)
"""Measures of every machine whose engine works so."""


def example(name: str, cycle: Cycle, system: System) -> tuple[Measure, Window]:
    """Return what is known of a usual measure on an engine, and its example window.

    Args:
        name: A key of ``MEASURES``.
        cycle: Of the engine: two-stroke ones have figures of their own.
        system: The units that the shop likes.
    """
    found = TWO_STROKE.get(name) if cycle == "two-stroke" else None
    found = found or MEASURES[name]
    return found, found.window(system)


VOLUME: Mapping[System, tuple[str, Mapping[str, Decimal]]] = MappingProxyType(
    {
        "inches": (
            "ounce",
            {"oil": Decimal(20), "gear oil": Decimal(24), "pump oil": Decimal(5),
             "fuel": Decimal(48), "bar oil": Decimal(8)},
        ),
        "metric": (
            "liter",
            {"oil": Decimal("0.6"), "gear oil": Decimal("0.7"), "pump oil": Decimal("0.15"),
             "fuel": Decimal("1.5"), "bar oil": Decimal("0.25")},
        ),
    }
)  # fmt: skip
"""The unit of volume that is liked, and examples of capacities in it."""

GRADES: Mapping[str, str] = MappingProxyType(
    {
        "oil": "SAE 30",
        "gear oil": "80W-90",
        "pump oil": "SAE 30, without detergent",
        "fuel": "unleaded, fresh",
        "bar oil": "bar and chain oil",
    }
)
"""Examples of what is filled in."""

ALSO_SAID: Mapping[str, str] = MappingProxyType(
    {
        "gap": "plug gap",
        "coil gap": "air gap",
        "intake clearance": "inlet clearance",
        "exhaust clearance": "outlet clearance",
        "compression": "cylinder pressure",
        "leak down": "leakage",
        "idle speed": "slow speed",
        "engine speed": "top speed",
        "battery": "battery voltage",
        "plug": "spark plug",
    }
)
"""Examples of another way to say a measure or a fastener."""


def also_said(name: str, taken: Container[str] = ()) -> str:
    """Return an example of another way to say a measure, a fluid or a fastener.

    Args:
        name: Of it.
        taken: Names that already mean something else.
    """
    said = ALSO_SAID.get(name, "")
    return said if said and said not in taken else f"{name} here"


SAID: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {"oil": ("oil", "engine oil"), "fuel": ("fuel", "gas", "petrol")}
)
"""Other ways to say a fluid; its name alone if it is not here."""

SAME_FLUID: Mapping[str, str] = MappingProxyType(
    {said: fluid for fluid, ways in SAID.items() for said in ways}
)
"""By every way to say a fluid, its name."""

SAME_FASTENER: Mapping[str, str] = MappingProxyType({"spark plug": "plug"})
"""The same of fasteners."""

TORQUE: Mapping[System, Window] = MappingProxyType(
    {
        "inches": window("foot pound", "17", "20"),
        "metric": window("newton meter", "23", "27"),
    }
)
"""An example of a torque."""

PLUG_TORQUE: Mapping[System, Window] = MappingProxyType(
    {
        "inches": window("foot pound", "13", "17"),
        "metric": window("newton meter", "18", "23"),
    }
)
"""The same for a spark plug of 14 millimeters."""


def torque_example(fastener: str, system: System) -> tuple[Window, Mapping[str, Value]]:
    """Return an example of a fastener's torque, and of what else is told of it."""
    if fastener == "plug":
        return PLUG_TORQUE[system], {"thread": "M14x1.25", "count": 1, "order": "by hand first"}
    return TORQUE[system], {"thread": "M8x1.25", "count": 4, "order": "crosswise, in two passes"}


def grades_example(fluid: str) -> Sequence[Mapping[str, Value]]:
    """Return an example of what is filled in by the temperature of the air."""
    if fluid == "oil":
        return (
            {"grade": "5W-30", "low": -20, "high": 4, "unit": "celsius"},
            {"grade": "SAE 30", "low": 4, "high": 40, "unit": "celsius"},
        )
    return ({"grade": GRADES.get(fluid, "as the can says"), "low": -20, "unit": "celsius"},)


SERVICES: Mapping[Cycle, tuple[Mapping[str, Value], ...]] = MappingProxyType(
    {
        "four-stroke": (
            {"item": "oil level", "work": "check", "each_use": True},
            {"item": "oil", "work": "change", "first_hours": 5, "hours": 50, "season": "end"},
            {"item": "air filter", "work": "clean", "hours": 25, "note": "twice as often in dust"},
            {"item": "spark plug", "work": "replace", "hours": 100, "months": 12},
        ),
        "two-stroke": (
            {"item": "air filter", "work": "clean", "each_use": True},
            {"item": "spark plug", "work": "replace", "hours": 100, "months": 12},
            {"item": "fuel", "work": "drain", "season": "end", "note": "before winter"},
        ),
        "electric": (
            {"item": "machine", "work": "blow clean", "each_use": True},
            {"item": "machine", "work": "check the cord", "months": 12, "season": "start"},
        ),
    }
)  # fmt: skip
"""Examples of work that comes back, common practice."""
