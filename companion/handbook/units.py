"""The units of the trade: one table for hearing, recording, judging and speaking them.

Names, dimensions, spoken and written forms come from the table below and cost nothing. Only
``to_si``, ``from_si`` and ``convert`` need pint, whose registry is loaded on first use (about a
quarter of a second) or ahead of time by ``load_registry``. Pint computes here in fractions, so
every result is exact before it becomes a decimal.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, localcontext
from fractions import Fraction
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from pint import UnitRegistry

OunceSystem = Literal["us", "imperial"]
"""Whose ounce, pint, quart and gallon a shop means (US ounce 29.5735 mL, imperial 28.4131)."""

DIGITS = 28
"""Significant digits kept where a conversion gives a decimal that never ends."""

SI_UNITS: Mapping[str, str] = MappingProxyType(
    {
        "length": "m",
        "pressure": "Pa",
        "torque": "N.m",
        "temperature": "K",
        "voltage": "V",
        "resistance": "ohm",
        "speed": "1/min",
        "percent": "1",
        "frequency": "Hz",
        "power": "W",
        "current": "A",
        "turns": "1",
        "volume": "m3",
        "time": "s",
    }
)
"""By dimension, the unit in which values are compared; speed per minute, as tachometers show it."""


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit of the bench.

    Attributes:
        name: Singular, lower case; what is recorded.
        dimension: A key of ``SI_UNITS``.
        definition: The unit as pint knows it; of the US system where a bare ounce may be either.
        singular: How one of it is said.
        plural: How several are said.
        symbol: How it stands on a page after a number.
        aliases: Other ways to type it, lower case.
        divisor: How many of this unit make one of ``definition``.
    """

    name: str
    dimension: str
    definition: str
    singular: str
    plural: str
    symbol: str
    aliases: tuple[str, ...] = ()
    divisor: int = 1


class UnknownUnit(ValueError):
    """A unit that the bench does not use."""


class UnitsDoNotFit(ValueError):
    """Two units that measure different things."""


def _volumes(
    name: str, plural: str, us: str, imperial: str, symbol: str, *aliases: str
) -> tuple[Unit, ...]:
    """The unit as the shop means it, and the two that say which system they are of."""
    return (
        Unit(name, "volume", us, name, plural, symbol, (plural, *aliases)),
        Unit(
            f"us {name}",
            "volume",
            us,
            f"u s {name}",
            f"u s {plural}",
            f"US {symbol}",
            tuple(f"us {alias}" for alias in (plural, *aliases)),
        ),
        Unit(
            f"imperial {name}",
            "volume",
            imperial,
            f"imperial {name}",
            f"imperial {plural}",
            f"imp {symbol}",
            tuple(
                f"{system} {alias}"
                for system in ("imperial", "imp", "uk")
                for alias in (name, plural, *aliases)
                if f"{system} {alias}" != f"imperial {name}"
            ),
        ),
    )


_TABLE = (
    Unit(
        "thou", "length", "inch", "thou", "thou", "thou",
        ("thousandth", "thousandths", "thousandths of an inch", "mil", "mils"), 1000,
    ),
    Unit("inch", "length", "inch", "inch", "inches", "in", ("inches", "in", '"')),
    Unit(
        "millimeter", "length", "millimeter", "millimeter", "millimeters", "mm",
        ("millimeters", "millimetre", "millimetres", "mm"),
    ),
    Unit("psi", "pressure", "psi", "p s i", "p s i", "psi", ("p s i", "lbf/in2", "lb/in2")),
    Unit(
        "kilopascal", "pressure", "kilopascal", "kilopascal", "kilopascals", "kPa",
        ("kilopascals", "kpa", "k p a"),
    ),
    Unit("bar", "pressure", "bar", "bar", "bar", "bar", ("bars",)),
    Unit(
        "foot pound", "torque", "foot * pound_force", "foot pound", "foot pounds", "ft·lbf",
        ("foot pounds", "ft·lbf", "ft.lbf", "ft-lbf", "ft lbf", "ft-lb", "ft-lbs", "ft lb",
         "ft lbs", "lbf·ft", "lbf.ft", "lb-ft", "lb ft"),
    ),
    Unit(
        "inch pound", "torque", "inch * pound_force", "inch pound", "inch pounds", "in·lbf",
        ("inch pounds", "in·lbf", "in.lbf", "in-lbf", "in lbf", "in-lb", "in-lbs", "in lb",
         "in lbs", "lbf·in", "lbf.in", "lb-in", "lb in"),
    ),
    Unit(
        "newton meter", "torque", "newton * meter", "newton meter", "newton meters", "N·m",
        ("newton meters", "newton metre", "newton metres", "n·m", "n.m", "nm", "n m", "n-m"),
    ),
    Unit(
        "celsius", "temperature", "degree_Celsius", "degree celsius", "degrees celsius", "°C",
        ("°c", "c", "degc", "deg c", "degree celsius", "degrees celsius", "centigrade"),
    ),
    Unit(
        "fahrenheit", "temperature", "degree_Fahrenheit", "degree fahrenheit", "degrees fahrenheit",
        "°F", ("°f", "f", "degf", "deg f", "degree fahrenheit", "degrees fahrenheit"),
    ),
    Unit("volt", "voltage", "volt", "volt", "volts", "V", ("volts", "v")),
    Unit("ohm", "resistance", "ohm", "ohm", "ohms", "Ω", ("ohms", "ω", "Ω")),
    Unit(
        "kilohm", "resistance", "kiloohm", "kilohm", "kilohms", "kΩ",
        ("kilohms", "kiloohm", "kiloohms", "kohm", "kω", "kΩ"),
    ),
    Unit("rpm", "speed", "1/minute", "r p m", "r p m", "rpm", ("r p m", "revs", "1/min", "/min")),
    Unit("percent", "percent", "", "percent", "percent", "%", ("%", "per cent"), 100),
    Unit("hertz", "frequency", "hertz", "hertz", "hertz", "Hz", ("hz",)),
    Unit("watt", "power", "watt", "watt", "watts", "W", ("watts", "w")),
    Unit("kilowatt", "power", "kilowatt", "kilowatt", "kilowatts", "kW", ("kilowatts", "kw")),
    Unit("amp", "current", "ampere", "amp", "amps", "A", ("amps", "ampere", "amperes", "a")),
    Unit(
        "milliamp", "current", "milliampere", "milliamp", "milliamps", "mA",
        ("milliamps", "milliampere", "milliamperes", "ma"),
    ),
    # Of a screw: whole turns from where it is seated, a plain number.
    Unit("turn", "turns", "", "turn", "turns", "turns", ("turns",)),
    *_volumes(
        "ounce", "ounces", "fluid_ounce", "imperial_fluid_ounce", "fl oz",
        "fluid ounce", "fluid ounces", "fl oz", "oz",
    ),
    *_volumes("pint", "pints", "pint", "imperial_pint", "pt", "pt"),
    *_volumes("quart", "quarts", "quart", "imperial_quart", "qt", "qt"),
    *_volumes("gallon", "gallons", "gallon", "imperial_gallon", "gal", "gal"),
    Unit(
        "milliliter", "volume", "milliliter", "milliliter", "milliliters", "mL",
        ("milliliters", "millilitre", "millilitres", "ml", "cc"),
    ),
    Unit("liter", "volume", "liter", "liter", "liters", "L", ("liters", "litre", "litres", "l")),
    Unit("second", "time", "second", "second", "seconds", "s", ("seconds", "sec", "s")),
    Unit("minute", "time", "minute", "minute", "minutes", "min", ("minutes", "min")),
    Unit("hour", "time", "hour", "hour", "hours", "h", ("hours", "hr", "h")),
)  # fmt: skip

UNITS: Mapping[str, Unit] = MappingProxyType({unit.name: unit for unit in _TABLE})
"""Every unit by its name."""

_BY_ALIAS = {alias: unit for unit in _TABLE for alias in (unit.name, *unit.aliases)}

_SI = {
    kind: Unit(symbol, kind, definition, symbol, symbol, symbol)
    for (kind, symbol), definition in zip(
        SI_UNITS.items(),
        (
            "meter",
            "pascal",
            "newton * meter",
            "kelvin",
            "volt",
            "ohm",
            "1/minute",
            "",
            "hertz",
            "watt",
            "ampere",
            "",
            "meter ** 3",
            "second",
        ),
        strict=True,
    )
}


def unit_named(name: str) -> Unit:
    """Return the unit with exactly this name.

    Raises:
        UnknownUnit: If there is none.
    """
    try:
        return UNITS[name]
    except KeyError:
        raise UnknownUnit(
            f"'{name}' is not a unit of the bench; use one of: {', '.join(UNITS)}."
        ) from None


def find_unit(text: str) -> Unit:
    """Return the unit meant by a typed name, plural, other spelling or symbol, whatever its case.

    Raises:
        UnknownUnit: If there is none.
    """
    typed = " ".join(text.lower().split())
    return _BY_ALIAS.get(typed) or unit_named(typed)


@cache
def load_registry() -> UnitRegistry[Fraction]:
    """Load pint's units, once; call it ahead of time where the first conversion must not wait."""
    from pint import UnitRegistry

    return UnitRegistry(non_int_type=Fraction, cache_folder=None)


def _as_meant(unit: Unit, ounce: OunceSystem) -> Unit:
    return UNITS.get(f"imperial {unit.name}", unit) if ounce == "imperial" else unit


def _convert(value: Decimal, have: Unit, want: Unit) -> Decimal:
    if not value.is_finite():
        raise ValueError(f"{value} is not a number that can be converted.")
    if have == want:
        return value
    quantity = load_registry().Quantity(Fraction(value) / have.divisor, have.definition)
    return _decimal(Fraction(quantity.to(want.definition).magnitude) * want.divisor)


def _decimal(value: Fraction) -> Decimal:
    with localcontext() as context:
        context.prec = DIGITS
        return Decimal(value.numerator) / Decimal(value.denominator)


def to_si(value: Decimal, unit: str, *, ounce: OunceSystem = "us") -> tuple[Decimal, str]:
    """Express a value in the SI unit of its dimension.

    Args:
        value: In ``unit``.
        unit: A name in ``UNITS``.
        ounce: Which ounce, pint, quart and gallon are meant.

    Returns:
        The value, exact to ``DIGITS`` significant digits, and the unit: one of
        ``m m3 Pa N.m K V ohm s 1/min 1 Hz W A``.

    Raises:
        UnknownUnit: On an unknown unit.
        ValueError: If the value is not finite.
    """
    known = _as_meant(unit_named(unit), ounce)
    si = _SI[known.dimension]
    return _convert(value, known, si), si.name


def from_si(value: Decimal, unit: str, *, ounce: OunceSystem = "us") -> Decimal:
    """Express a value that is in SI in a unit of the bench; the reverse of ``to_si``.

    Raises:
        UnknownUnit: On an unknown unit.
        ValueError: If the value is not finite.
    """
    known = _as_meant(unit_named(unit), ounce)
    return _convert(value, _SI[known.dimension], known)


def convert(value: Decimal, unit: str, to: str, *, ounce: OunceSystem = "us") -> Decimal:
    """Express a value in another unit of the same dimension, unrounded.

    Args:
        value: In ``unit``. Temperatures are points on a scale, not differences.
        unit: A name in ``UNITS``.
        to: A name in ``UNITS``.
        ounce: Which ounce, pint, quart and gallon are meant.

    Raises:
        UnknownUnit: If either unit is unknown.
        UnitsDoNotFit: If they measure different things.
        ValueError: If the value is not finite.
    """
    have, want = unit_named(unit), unit_named(to)
    if have.dimension != want.dimension:
        raise UnitsDoNotFit(
            f"{have.plural} measure {have.dimension} and {want.plural} measure {want.dimension}: "
            "one cannot be given in the other."
        )
    return _convert(value, _as_meant(have, ounce), _as_meant(want, ounce))


def dimension(unit: str) -> str:
    """Return what a unit measures.

    Returns:
        One of ``length pressure torque temperature voltage resistance speed percent frequency power
        current turns volume time``.

    Raises:
        UnknownUnit: On an unknown unit.
    """
    return unit_named(unit).dimension


def spoken(unit: str, *, plural: bool) -> str:
    """Return how a unit is said: "foot pounds", "p s i", "degrees celsius".

    Raises:
        UnknownUnit: On an unknown unit.
    """
    known = unit_named(unit)
    return known.plural if plural else known.singular


def written(unit: str) -> str:
    """Return the symbol that follows a number on the page: "ft·lbf", "psi", "°C", "thou".

    Raises:
        UnknownUnit: On an unknown unit.
    """
    return unit_named(unit).symbol
