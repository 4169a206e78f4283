"""Units, mixes and displacements against NIST, an independent library and charts."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

import quantities

from companion.handbook.displacement import compression_ratio, displacement_of
from companion.handbook.mix import mix_for
from companion.handbook.unit_table import OunceSystem
from companion.handbook.units import convert, to_si
from tests.outside.check import Check

D = Decimal

# Factor to SI as printed, whether NIST prints it in bold, which means exact, and the entry.
NIST: tuple[tuple[str, OunceSystem, str, bool, str], ...] = (
    ("thou", "us", "2.54e-5", True, "mil (0.001 in)"),
    ("inch", "us", "2.54e-2", True, "inch (in)"),
    ("psi", "us", "6.894757e3", False, "psi (pound-force per square inch)"),
    ("bar", "us", "1.0e5", True, "bar (bar)"),
    ("foot pound", "us", "1.355818", False, "pound-force foot (lbf·ft)"),
    ("inch pound", "us", "1.129848e-1", False, "pound-force inch (lbf·in)"),
    ("ounce", "us", "2.957353e-5", False, "ounce [U.S. fluid (fl oz)]"),
    ("ounce", "imperial", "2.841306e-5", False, "ounce [Canadian and U.K. fluid (Imperial)]"),
    ("pint", "us", "4.731765e-4", False, "pint (U.S. liquid)"),
    ("quart", "us", "9.463529e-4", False, "quart (U.S. liquid)"),
    ("gallon", "us", "3.785412e-3", False, "gallon (U.S.)"),
    ("gallon", "imperial", "4.54609e-3", True, "gallon [Canadian and U.K. (Imperial)]"),
    ("liter", "us", "1.0e-3", True, "liter (L)"),
    ("minute", "us", "6.0e1", True, "minute (min)"),
    ("hour", "us", "3.6e3", True, "hour (h)"),
)

# The same, not looked up again.
NIST_RECALLED: tuple[tuple[str, OunceSystem, str, bool, str], ...] = (
    ("foot", "us", "3.048e-1", True, "foot (ft)"),
    ("kilogram per square centimeter", "us", "9.80665e4", True,
     "kilogram-force per square centimeter (kgf/cm2)"),
    ("kilogram meter", "us", "9.80665", True, "kilogram-force meter (kgf·m)"),
    ("cubic inch", "us", "1.638706e-5", False, "cubic inch (in3)"),
    ("pound", "us", "4.535924e-1", False, "pound (avoirdupois) (lb)"),
    ("weight ounce", "us", "2.834952e-2", False, "ounce (avoirdupois) (oz)"),
    ("horsepower", "us", "7.456999e2", False, "horsepower (550 ft·lbf/s)"),
    ("metric horsepower", "us", "7.354988e2", False, "horsepower (metric)"),
    ("mile per hour", "us", "4.4704e-1", True, "mile per hour (mi/h)"),
    ("kilometer per hour", "us", "2.777778e-1", False, "kilometer per hour (km/h)"),
    ("foot per minute", "us", "5.08e-3", True, "foot per minute (ft/min)"),
)  # fmt: skip

# Names in the library; units that it lacks are left out.
LIBRARY: tuple[tuple[str, OunceSystem, str], ...] = (
    ("inch", "us", "inch"), ("thou", "us", "mil"), ("psi", "us", "psi"), ("bar", "us", "bar"),
    ("kilopascal", "us", "kilopascal"), ("ounce", "us", "US_fluid_ounce"),
    ("ounce", "imperial", "UK_liquid_ounce"), ("pint", "us", "US_liquid_pint"),
    ("pint", "imperial", "UK_liquid_pint"), ("quart", "us", "US_liquid_quart"),
    ("quart", "imperial", "UK_liquid_quart"), ("gallon", "us", "gallon"),
    ("gallon", "imperial", "UK_liquid_gallon"), ("liter", "us", "liter"), ("hour", "us", "hour"),
    ("foot", "us", "foot"), ("centimeter", "us", "centimeter"), ("pound", "us", "pound"),
    ("weight ounce", "us", "ounce"), ("gram", "us", "gram"), ("kilogram", "us", "kilogram"),
    ("horsepower", "us", "horsepower"), ("kilowatt", "us", "kilowatt"),
)  # fmt: skip

# As conversion charts of handbooks print them.
EXAMPLES = (
    ("30", "millimeter", "centimeter", "3"), ("1", "horsepower", "kilowatt", "0.746"),
    ("1", "horsepower", "metric horsepower", "1.014"), ("1", "bar", "psi", "14.5"),
    ("1", "kilogram per square centimeter", "psi", "14.22"), ("100", "kilopascal", "psi", "14.5"),
    ("1", "kilogram meter", "foot pound", "7.233"), ("10", "kilogram", "pound", "22.05"),
    ("1", "pound", "weight ounce", "16"), ("1", "us gallon", "imperial gallon", "0.8327"),
    ("100", "cubic inch", "milliliter", "1639"),
    ("60", "mile per hour", "kilometer per hour", "96.6"),
    ("19000", "foot per minute", "meter per second", "96.5"), ("1", "meter", "foot", "3.281"),
)  # fmt: skip

# t/°C = (t/°F − 32)/1.8: freezing, boiling, the crossing point, a cold morning, absolute zero.
TEMPERATURES = (("32", "0"), ("212", "100"), ("-40", "-40"), ("23", "-5"), ("-459.67", "-273.15"))

# Oil for fuel as mix charts on oil bottles print it: ratio, fuel, unit, US ounces or mL.
MIX_OUNCES = (
    ("50", "1", "2.6"), ("50", "2", "5.1"), ("50", "2.5", "6.4"), ("40", "1", "3.2"),
    ("32", "1", "4.0"), ("25", "1", "5.1"), ("16", "1", "8.0"),
)  # fmt: skip
MIX_MILLILITERS = (("50", "5", "100"), ("25", "1", "40"), ("40", "10", "250"))


def checks() -> Iterator[Check]:
    """Every row about amounts."""
    yield from _units()
    yield from _temperatures()
    yield from _mixes()
    yield from _displacements()


def _units() -> Iterator[Check]:
    for (unit, ounce, factor, exact, entry), basis in (
        *((row, "published") for row in NIST),
        *((row, "from memory") for row in NIST_RECALLED),
    ):
        # Half of one in the last digit printed is the most that rounding allows.
        last = D((0, (1,), int(D(factor).as_tuple().exponent)))
        yield Check(
            "unit", f"{_whose(unit, ounce)} in SI", D(factor),
            lambda unit=unit, ounce=ounce: to_si(D(1), unit, ounce=ounce)[0],
            f"NIST SP 811 (2008), appendix B.8: {entry}", basis,
            abs=1e-18 if exact else float(last / 2),
        )  # fmt: skip
    for unit, ounce, name in LIBRARY:
        yield Check(
            "unit", f"{_whose(unit, ounce)} in SI", float(getattr(quantities, name).simplified),
            lambda unit=unit, ounce=ounce: to_si(D(1), unit, ounce=ounce)[0],
            "quantities (PyPI)", "library", rel=1e-9,
        )  # fmt: skip
    for name, parts in (("quart", 4), ("pint", 8), ("ounce", 160)):
        yield Check(
            "unit", f"{parts} imperial {name}s, imperial gallons", 1,
            lambda name=name, parts=parts:
                convert(D(parts), f"imperial {name}", "imperial gallon"),
            "UK Weights and Measures Act 1985, schedule 1", "from memory", abs=1e-18,
        )  # fmt: skip
    for value, unit, to, expected in EXAMPLES:
        yield Check(
            "unit", f"{value} {unit}, {to}", D(expected),
            lambda value=value, unit=unit, to=to: convert(D(value), unit, to),
            "shop conversion charts", "from memory", rel=0.005,
        )  # fmt: skip
    yield Check(
        "unit", "20 US ounces, mL", 600, lambda: convert(D(20), "ounce", "milliliter"),
        "20 ounces are roughly 600 mL", "common practice", rel=0.02,
    )  # fmt: skip


def _temperatures() -> Iterator[Check]:
    for fahrenheit, celsius in TEMPERATURES:
        yield Check(
            "unit", f"{fahrenheit} °F, °C", D(celsius),
            lambda fahrenheit=fahrenheit: convert(D(fahrenheit), "fahrenheit", "celsius"),
            "NIST SP 811 (2008), appendix B.8: degree Fahrenheit", "published", abs=1e-18,
        )  # fmt: skip
        yield Check(
            "unit", f"{celsius} °C, K", D(celsius) + D("273.15"),
            lambda celsius=celsius: to_si(D(celsius), "celsius")[0],
            "NIST SP 811 (2008), appendix B.8: degree Celsius", "published", abs=1e-18,
        )  # fmt: skip


def _mixes() -> Iterator[Check]:
    for ratio, fuel, ounces in MIX_OUNCES:
        yield Check(
            "mix", f"oil for {fuel} US gallons at {ratio} to 1, US ounces", D(ounces),
            lambda ratio=ratio, fuel=fuel: mix_for(D(ratio), D(fuel), "gallon").ounces,
            "mix charts on oil bottles", "from memory", abs=0.05,
        )  # fmt: skip
    for ratio, fuel, milliliters in MIX_MILLILITERS:
        yield Check(
            "mix", f"oil for {fuel} liters at {ratio} to 1, mL", D(milliliters),
            lambda ratio=ratio, fuel=fuel: mix_for(D(ratio), D(fuel), "liter").milliliters,
            "mix charts on oil bottles", "from memory",
        )  # fmt: skip


def _displacements() -> Iterator[Check]:
    yield Check(
        "displacement", "bore 2 inches, stroke 2 inches, cubic inches", 6.283,
        lambda: displacement_of(D(2), D(2), "inch").cubic_inches,
        "π/4 · 2² · 2 = 2π", "by hand", abs=0.0005,
    )  # fmt: skip
    yield Check(
        "displacement", "68 by 54 mm, cm³", 196.1,
        lambda: displacement_of(D(68), D(54), "millimeter").cubic_centimeters,
        "π · 3.4² · 5.4", "by hand", abs=0.05,
    )  # fmt: skip
    yield Check(
        "displacement", "cubic inch from a 1 inch stroke, cm³", 16.38706 * 0.7853982,
        lambda: displacement_of(D(1), D(1), "inch").cubic_centimeters,
        "NIST SP 811 (2008), appendix B.8: cubic inch, times π/4", "from memory", rel=1e-6,
    )  # fmt: skip
    yield Check(
        "displacement", "compression ratio of 200 and 25 mL", 9,
        lambda: compression_ratio(D(200), D(25), "milliliter").ratio,
        "(200 + 25) / 25", "by hand",
    )  # fmt: skip


def _whose(unit: str, ounce: OunceSystem) -> str:
    liquid = unit in ("ounce", "pint", "quart", "gallon")
    return f"1 {ounce} {unit}" if liquid else f"1 {unit}"
