"""What somebody knows of a machine, said in a line: "gap 28 to 31 thou", "oil 20 ounces"."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from companion.blanks.usual import MEASURES, SAME_FASTENER, SAME_FLUID, VOLUME, System
from companion.errors import WrongUse
from companion.files.figures import number_fault
from companion.files.quoting import quoted
from companion.handbook.units import UnknownUnit, dimension, find_unit

TORQUE = " torque"
"""The name of a fastener's torque ends with this."""

NO_READING = frozenset({"mass", "travel"})
"""Dimensions that no measure of a sheet has."""

PLACES = 6
"""Digits after the point of a fraction whose decimal never ends: finer than any instrument."""

_NUMBER = r"(?:\d+ \d+/\d+|\d+/\d+|\d+[.,]\d+|[.,]?\d+)"
_KNOWN = re.compile(
    rf"(?P<name>[a-z][a-z' -]*?)\s*[:=]?\s+"
    r"(?:(?P<bound>at (?:least|most)|over|above|from|under|below|up to|m(?:in|ax)(?:imum)?)\s+)?"
    rf"(?P<one>{_NUMBER})"
    rf"(?:\s*(?:to|and|-|–|\.\.)\s*(?P<two>{_NUMBER}))?"
    rf"\s*(?P<unit>[^\d\s.,][^\d]*?[0-9²³]?)?"
    rf"(?:\s+(?P<after>or more|or less|at least|at most|minimum|maximum|min|max))?"
)
_AT_MOST = {"at most", "under", "below", "up to", "max", "maximum", "or less"}


@dataclass(frozen=True, slots=True)
class KnownReading:
    """The window of a measure.

    Attributes:
        measure: As it is called; ending with "torque" where it is a fastener's.
        unit: A unit's name from ``companion.handbook.units``.
        low: Lower end in ``unit``, or None.
        high: Upper end in ``unit``, or None.
    """

    measure: str
    unit: str
    low: Decimal | None
    high: Decimal | None


@dataclass(frozen=True, slots=True)
class KnownFluid:
    """How much of a fluid goes in.

    Attributes:
        fluid: As it is called.
        unit: A unit of volume by its name from ``companion.handbook.units``.
        capacity: In ``unit``, above zero.
    """

    fluid: str
    unit: str
    capacity: Decimal


Known = KnownReading | KnownFluid
"""A line of what is known."""


def known_of(text: str, system: System) -> Known:
    """Return what a line says.

    Args:
        text: "gap 28 to 31 thou", "leak down at most 20 percent", "oil 20 ounces"; the unit may be
            spelled in any way that a typed call takes, and left out where the measure is a usual
            one.
        system: The units that are meant where it is left out.

    Raises:
        WrongUse: If it cannot be told, with what is wrong.
    """
    said = " ".join(text.lower().split())
    found = _KNOWN.fullmatch(said)
    if found is None:
        raise WrongUse(
            f"'{quoted(text)}' cannot be read; write it like 'gap 28 to 31 thou', 'compression at "
            "least 90 psi' or 'oil 20 ounces'."
        )
    name = _name(" ".join(found["name"].replace("-", " ").split()))
    unit = _unit(name, found["unit"], system)
    if dimension(unit) in NO_READING or dimension(unit) != _measured_in(name, unit):
        usual = MEASURES[name].window(system).unit if name in MEASURES else "psi or thou"
        raise WrongUse(
            f"'{quoted(text)}': {name} is not given in {find_unit(unit).plural}, but in {usual}."
        )
    one, two = _figure(found["one"], text), None
    if found["two"] is not None:
        two = _figure(found["two"], text)
        if two < one:
            raise WrongUse(f"'{quoted(text)}' is upside down: write the lower end first.")
    bound = found["bound"] or found["after"]
    if dimension(unit) == "volume":
        if two is not None or bound is not None or one <= 0:
            raise WrongUse(f"'{quoted(text)}': of a fluid write how much goes in: 'oil 20 ounces'.")
        return KnownFluid(name, unit, one)
    if two is None and bound is None:
        raise WrongUse(
            f"'{quoted(text)}' has one end only: write both, '{name} {_both(name, system)}', or "
            f"say which it is, '{name} at least {found['one']}'."
        )
    if two is not None:
        return KnownReading(name, unit, one, two)
    return KnownReading(name, unit, *((None, one) if bound in _AT_MOST else (one, None)))


def _name(said: str) -> str:
    """The name of a measure or fluid by any way to say it."""
    if said.endswith(TORQUE):
        fastener = said.removesuffix(TORQUE)
        return f"{SAME_FASTENER.get(fastener, fastener)}{TORQUE}"
    return SAME_FLUID.get(said, said)


def _measured_in(name: str, unit: str) -> str:
    """The dimension of a measure: of a usual one its own, of any other that of its unit."""
    if name.endswith(TORQUE):
        return "torque"
    return dimension(MEASURES[name].inches.unit if name in MEASURES else unit)


def _both(name: str, system: System) -> str:
    """An example of both ends of a window."""
    window = MEASURES[name].window(system) if name in MEASURES else None
    if window is None or window.low is None or window.high is None:
        return "28 to 31"
    return f"{window.low:f} to {window.high:f}"


def _unit(name: str, typed: str | None, system: System) -> str:
    if typed is None:
        if name in VOLUME[system][1]:
            return VOLUME[system][0]
        if name in MEASURES:
            return MEASURES[name].window(system).unit
        raise WrongUse(f"'{name}' needs its unit: psi, millimeters, foot pounds and so on.")
    typed = typed.strip()
    try:
        unit = find_unit(typed)
    except UnknownUnit as error:
        raise WrongUse(str(error)) from None
    return unit.name


def _figure(written: str, whole: str) -> Decimal:
    """A figure as a shop writes it: 28, .028, 0,7, 1/8, 1 1/2."""
    try:
        if "/" in written:
            fraction = sum((Fraction(part) for part in written.split()), Fraction(0))
            figure = Decimal(fraction.numerator) / Decimal(fraction.denominator)
            figure = round(figure, PLACES).normalize()
        else:
            figure = Decimal(written.replace(",", "."))
    except ZeroDivisionError:
        raise WrongUse(f"'{quoted(whole)}' divides by zero.") from None
    fault = number_fault(figure)
    if fault is not None:
        raise WrongUse(f"'{quoted(whole)}': '{quoted(written)}' {fault}.")
    return figure
