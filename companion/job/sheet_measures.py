"""Every measure that a spec sheet has a window for, or knows to be unknown.

Torques, tires and belts stand in tables of their own, with what a person orders or looks up; what
is measured on them becomes measures like all others, so that "head bolt torque eighteen foot
pounds" is heard, recorded and judged as a gap is.
"""

from __future__ import annotations

from companion.job.sheet import SpecBelt, SpecReading, SpecSheet, SpecTire, SpecTorque


def measures(sheet: SpecSheet) -> tuple[SpecReading, ...]:
    """Return the measures of a sheet: its readings, then torques, tire pressures and deflections.

    A belt without a deflection window adds none: nobody measures what the sheet does not want.
    """
    return (
        *sheet.reading,
        *(torque_measure(torque) for torque in sheet.torque),
        *(tire_measure(tire) for tire in sheet.tire),
        *(belt_measure(belt) for belt in sheet.belt if _has_window(belt)),
    )


def measure_named(sheet: SpecSheet | None, name: str) -> SpecReading | None:
    """Return a measure of a sheet by its name, or None."""
    if sheet is None:
        return None
    return next((each for each in measures(sheet) if each.measure == name), None)


def torque_name(torque: SpecTorque) -> str:
    """Return what the tightness of a fastener is called: "head bolt torque"."""
    return f"{torque.fastener} torque"


def pressure_name(tire: SpecTire) -> str:
    """Return what the pressure of a tire is called: "front tire pressure"."""
    return f"{tire.name} pressure"


def deflection_name(belt: SpecBelt) -> str:
    """Return what the deflection of a belt is called: "drive belt deflection"."""
    return belt.deflection or f"{belt.name} deflection"


def torque_measure(torque: SpecTorque) -> SpecReading:
    """Return what is measured on a fastener: "head bolt torque"."""
    return SpecReading(
        measure=torque_name(torque),
        unit=torque.unit,
        low=torque.low,
        high=torque.high,
        condition=torque.condition,
        engine=torque.engine,
        spoken=tuple(f"{words} torque" for words in torque.spoken),
        source=torque.source,
    )


def tire_measure(tire: SpecTire) -> SpecReading:
    """Return what is measured on a tire: "front tire pressure"."""
    return SpecReading(
        measure=pressure_name(tire),
        unit=tire.unit,
        low=tire.low,
        high=tire.high,
        source=tire.source,
    )


def belt_measure(belt: SpecBelt) -> SpecReading:
    """Return what is measured on a belt: "drive belt deflection"."""
    return SpecReading(
        measure=deflection_name(belt),
        unit=belt.unit,
        low=belt.low,
        high=belt.high,
        condition=belt.condition,
        source=belt.source,
    )


def not_known(sheet: SpecSheet) -> tuple[str, ...]:
    """Return what the sheet lists and has no figure for: measures, then fluids by their capacity.

    Called out, such a figure is kept as one that is not the maker's.
    """
    return (
        *(each.measure for each in measures(sheet) if each.low is None and each.high is None),
        *(f"{fluid.name} capacity" for fluid in sheet.fluid if fluid.capacity is None),
    )


def _has_window(belt: SpecBelt) -> bool:
    return belt.low is not None or belt.high is not None
