"""The units of the trade: one table for hearing, typing, recording, judging and speaking them.

Names, dimensions, spoken and written forms come from ``unit_table.py`` and cost nothing. From it
follow ``grammars/conversions.gram`` (``unit_grammar.py`` writes it), the short forms that may be
typed in calls, the rounding of what is said, and what a page shows beside a figure. Only ``to_si``,
``from_si`` and ``convert`` need pint, whose registry is loaded on first use
(``docs/measurements.md`` has how long that takes) or ahead of time by ``load_registry``. Pint
computes here in fractions, so every result is exact before it becomes a decimal.
"""

from __future__ import annotations

import re
from decimal import Decimal, localcontext
from fractions import Fraction
from functools import cache, lru_cache
from itertools import product
from typing import TYPE_CHECKING

from companion.files.quoting import quoted
from companion.handbook.unit_table import DIMENSIONS, TABLE, UNITS, OunceSystem, Unit

if TYPE_CHECKING:
    from pint import UnitRegistry


DIGITS = 28
"""Significant digits kept where a conversion gives a decimal that never ends."""


class UnknownUnit(ValueError):
    """A unit that the bench does not use."""


class UnitsDoNotFit(ValueError):
    """Two units that measure different things."""


_BY_FORM: dict[str, list[Unit]] = {}


for _unit in TABLE:
    for _form in (*_unit.typed, *_unit.only_typed):
        _BY_FORM.setdefault(_form, []).append(_unit)


_SI = {
    name: Unit(kind.si, name, kind.definition, kind.si, kind.si, kind.si)
    for name, kind in DIMENSIONS.items()
}


_SEPARATORS = re.compile(r"[\s.·⋅•-]+")


def unit_named(name: str) -> Unit:
    """Return the unit with exactly this name.

    Raises:
        UnknownUnit: If there is none.
    """
    try:
        return UNITS[name]
    except KeyError:
        raise UnknownUnit(
            f"'{quoted(name)}' is not a unit of the bench; use one of: {', '.join(UNITS)}."
        ) from None


def find_unit(text: str) -> Unit:
    """Return the unit meant by a typed name, plural, other spelling or symbol, whatever its case.

    Raises:
        UnknownUnit: If there is none.
    """
    return units_typed(text)[0]


def units_that_fit(text: str, other: str) -> tuple[Unit, Unit]:
    """Return two typed units of one dimension: "oz" is of weight where the other is "g".

    Where none fit, both are what ``find_unit`` gives.

    Raises:
        UnknownUnit: If either is unknown.
    """
    pairs = list(product(units_typed(text), units_typed(other)))
    return next((pair for pair in pairs if pair[0].dimension == pair[1].dimension), pairs[0])


def units_typed(text: str) -> list[Unit]:
    """Return the units that a typed name, plural, other spelling or symbol may mean, whatever its
    case, the usual one first: "oz" is of volume and of weight.

    Raises:
        UnknownUnit: If there is none.
    """
    typed = " ".join(text.lower().split())
    # "N·m", "ft-lb" and "ft.lbf" are typed with any sign between.
    found = _BY_FORM.get(typed) or _BY_FORM.get(_SEPARATORS.sub(" ", typed))
    joined = {"".join(form.split()): units for form, units in _BY_FORM.items()} if not found else {}
    return found or joined.get(_SEPARATORS.sub("", typed)) or [unit_named(typed)]


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
    return _converted(str(value), have, want)


@lru_cache(maxsize=4096)
def _converted(value: str, have: Unit, want: Unit) -> Decimal:
    """Convert once what a job asks for at every call: the sheet's figures, and what went in."""
    quantity = load_registry().Quantity(Fraction(value) / have.divisor, have.definition)
    return _decimal(Fraction(quantity.to(want.definition).magnitude) * want.divisor)


def _decimal(value: Fraction) -> Decimal:
    with localcontext() as context:
        context.prec = DIGITS
        return Decimal(value.numerator) / Decimal(value.denominator)


def whose(unit: str, ounce: str) -> str:
    """Return a unit of volume with its system, as "us ounce"; every other unit as it stands.

    Args:
        unit: A unit's name.
        ounce: Which ounce, pint, quart and gallon are meant.
    """
    owned = f"{ounce} {unit}"
    return owned if owned in UNITS else unit


def clock_parts(seconds: float) -> list[tuple[int, str]]:
    """Return a length of time in whole hours, minutes and seconds, those that are not zero.

    Args:
        seconds: Zero or more; rounded to the whole second.
    """
    parts = []
    left = round(seconds)
    for size, unit in ((3600, "hour"), (60, "minute"), (1, "second")):
        count, left = divmod(left, size)
        if count:
            parts.append((count, unit))
    return parts


def to_si(value: Decimal, unit: str, *, ounce: OunceSystem = "us") -> tuple[Decimal, str]:
    """Express a value in the SI unit of its dimension.

    Args:
        value: In ``unit``.
        unit: A name in ``UNITS``.
        ounce: Which ounce, pint, quart and gallon are meant.

    Returns:
        The value, exact to ``DIGITS`` significant digits, and the unit: one of
        ``m m3 Pa N.m K V ohm s 1/min 1 Hz W A kg m/s``.

    Raises:
        UnknownUnit: On an unknown unit.
        ValueError: If the value is not finite.
    """
    known = _as_meant(unit_named(unit), ounce)
    si = _SI[known.dimension]
    return _convert(value, known, si), si.name


def from_si(value: Decimal, unit: str, *, ounce: OunceSystem = "us") -> Decimal:
    """Express a value that is in SI in a unit of the bench; the reverse of ``to_si``.

    Args:
        value: In the SI unit of the dimension.
        unit: A unit's name.
        ounce: Which ounce, pint, quart and gallon are meant.

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
        A key of ``DIMENSIONS``.

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
