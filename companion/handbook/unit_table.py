"""The units of the trade, a row a unit, and what they measure, a row a dimension.

All there is to say of a unit stands in its row: whoever hears, types, records, judges, speaks or
shows a quantity reads it from here. ``units.py`` finds units by what is typed, and converts.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType
from typing import Literal, get_args

OunceSystem = Literal["us", "imperial"]
"""Whose ounce, pint, quart and gallon a shop means (US ounce 29.5735 mL, imperial 28.4131)."""


SIUnit = Literal[
    "m", "m3", "Pa", "N.m", "K", "V", "ohm", "s", "1/min", "1", "Hz", "W", "A", "kg", "m/s"
]
"""The coherent units of the SI in which a log keeps values, beside those in which they were called;
"1/min" and "1" as tachometers and shares have them."""


@dataclass(frozen=True, slots=True)
class Dimension:
    """What a unit measures.

    Attributes:
        si: The unit in which values are compared and written to the log.
        definition: The same as pint knows it.
        called: How a reading of it is called, value and unit, in rules of ``units.gram`` and
            ``numbers.gram``; empty where nothing is read in it, or where the rule stands by itself.
        heading: Under which its readings stand on the page of a sheet.
    """

    si: SIUnit
    definition: str
    called: str = ""
    heading: str = ""


DIMENSIONS: Mapping[str, Dimension] = MappingProxyType(
    {
        "length": Dimension("m", "meter", "<units.length>", heading="Gaps and clearances"),
        "pressure": Dimension("Pa", "pascal", "<units.pressure>", heading="Pressures"),
        "torque": Dimension("N.m", "newton * meter", "<units.torque>", heading="Other torques"),
        "temperature": Dimension("K", "kelvin", "<units.temperature>", heading="Temperatures"),
        "voltage": Dimension(
            "V",
            "volt",
            "<numbers.volt-number> <units.voltage-unit>",
            heading="Electrical",
        ),
        "resistance": Dimension("ohm", "ohm", "<units.resistance>", heading="Electrical"),
        "speed": Dimension(
            "1/min",
            "1/minute",
            "<numbers.whole-number> <units.speed-unit>",
            heading="Governed speeds",
        ),
        "percent": Dimension("1", "", "<units.percent>", heading="Other measures"),
        "frequency": Dimension(
            "Hz",
            "hertz",
            "<numbers.dial-number> (hertz {unit=hertz})",
            heading="Electrical",
        ),
        "current": Dimension("A", "ampere", "<units.current>", heading="Electrical"),
        "turns": Dimension("1", "", heading="Other measures"),
        "volume": Dimension("m3", "meter ** 3"),
        "time": Dimension("s", "second", heading="Other measures"),
        "mass": Dimension("kg", "kilogram"),
        "power": Dimension("W", "watt", "<units.power>", heading="Electrical"),
        "travel": Dimension("m/s", "meter / second"),
    }
)
"""Every dimension. "Speed" is of a shaft, per minute as tachometers show it; "travel" is of a belt,
a blade's tip or a whole machine."""


MeasureDimension = Literal[
    "length",
    "pressure",
    "torque",
    "temperature",
    "voltage",
    "resistance",
    "speed",
    "percent",
    "frequency",
    "power",
    "current",
    "turns",
    "time",
]
"""What a measure of a sheet or card is measured in; each has its own units, so that no gap is ever
heard in psi."""

MEASURE_DIMENSIONS: tuple[MeasureDimension, ...] = get_args(MeasureDimension)


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit of the bench; its row in the table is all there is to say of it.

    Attributes:
        name: Singular, lower case; what is recorded.
        dimension: A key of ``DIMENSIONS``.
        definition: The unit as pint knows it; of the US system where a bare ounce may be either.
        singular: How one of it is said.
        plural: How several are said.
        symbol: How it stands on a page after a number.
        aliases: Short forms and other ways to type it, lower case. Spellings in "-metre" and
            "-litre" need no mention. A form may mean units of two dimensions ("oz"): the unit that
            it is converted to tells them apart, and elsewhere the first in the table is meant.
        divisor: How many of this unit make one of ``definition``.
        finest: The finest step worth saying: about what a shop's instrument can show.
        called: The rule of ``grammars/numbers.gram`` in which its numbers are called where it is
            converted; empty for a unit that is converted only at the desk.
        parts: Whether one says "half a liter", "a quarter of an inch", "a gallon" of it.
        also_said: Other ways to say it that are understood.
        beside: The unit of the other system that a page shows beside it, or None.
        only_typed: Ways to type it that only the desk takes, since a call might mean another.
        read_in: Rules of ``numbers.gram`` in which its numbers are called in a reading, as
            ``units.gram`` has them; empty where nothing is read in it.
        left_out: Whether the word may be left out of a reading with any sheet, since its measures
            are read in no other unit.
        names: Plural of ``name``, where that is neither ``plural`` nor, where one and several are
            said alike, the name itself.
        beside_small: Up to which value of this unit a page shows another one beside it, and which.
        fractions: Whether its parts are said as the fractions that a rule is marked in.
        sounds: How it sounds, in phonemes of ARPABET, where dictionaries do not have the word.
        respelled: How it is written for speech engines, which mispronounce it.
    """

    name: str
    dimension: str
    definition: str
    singular: str
    plural: str
    symbol: str
    aliases: tuple[str, ...] = ()
    divisor: int = 1
    finest: Decimal = Decimal("0.1")
    called: str = "dial-number"
    parts: bool = False
    also_said: tuple[str, ...] = ()
    beside: str | None = None
    only_typed: tuple[str, ...] = ()
    read_in: tuple[str, ...] = ()
    left_out: bool = False
    names: str = ""
    beside_small: tuple[Decimal, str] | None = None
    fractions: bool = False
    sounds: tuple[str, ...] = ()
    respelled: str = ""

    @property
    def said(self) -> tuple[str, ...]:
        """Every way to say it that is understood, the usual ones first."""
        return tuple(dict.fromkeys((self.singular, self.plural, *self.also_said)))

    @property
    def typed(self) -> tuple[str, ...]:
        """Every way to type it in a call or at the desk, British spellings among them."""
        forms = (self.name, *self.said, *self.aliases)
        return tuple(dict.fromkeys(each for form in forms for each in (form, british(form))))

    @property
    def named_several(self) -> str:
        """The plural of the name, as a log is shown: "thou", "feet", "us ounces"."""
        return self.names or (self.name if self.plural == self.singular else self.plural)

    def printed(self, *, plural: bool) -> str:
        """Return how it is said as one would print it: "psi", "foot pounds", "US ounces"."""
        said = self.plural if plural else self.singular
        letters = said.split()
        joined = "".join(letters) if all(len(each) == 1 for each in letters) else said
        return joined.replace("u s ", "US ")

    def shown_beside(self, value: Decimal) -> str | None:
        """Return the unit that a page shows beside a value of this one, or None."""
        if self.beside_small is not None and abs(value) <= self.beside_small[0]:
            return self.beside_small[1]
        return self.beside


def british(form: str) -> str:
    """Spell what a unit is called in British: "millilitres", "newton metre"."""
    return form.replace("meter", "metre").replace("liter", "litre")


def _volumes(
    name: str, us: str, imperial: str, symbol: str, *short: str, fluid: bool = False, beside: str
) -> tuple[Unit, ...]:
    """The unit as the shop means it, and the two that say which system they are of."""
    several = f"{name}s"
    words = (f"fluid {name}", f"fluid {several}") if fluid else ()
    step = Decimal("0.1" if fluid else "0.01")
    typed = (several, *words, *short)
    return (
        Unit(
            name, "volume", us, name, several, symbol, short,
            finest=step, parts=True, also_said=words, called="coarse-number", beside=beside,
        ),
        Unit(
            f"us {name}", "volume", us, f"u s {name}", f"u s {several}", f"US {symbol}",
            tuple(f"us {each}" for each in typed), names=f"us {several}",
            finest=step, called="coarse-number", beside=beside,
        ),
        Unit(
            f"imperial {name}", "volume", imperial, f"imperial {name}", f"imperial {several}",
            f"imp {symbol}",
            tuple(
                f"{system} {each}"
                for system in ("imperial", "imp", "uk")
                for each in (name, *typed)
            ),
            finest=step, called="coarse-number", beside=beside,
        ),
    )  # fmt: skip


D = Decimal


TABLE = (
    Unit(
        "thou", "length", "inch", "thou", "thou", "thou",
        ("thousandth", "thousandth of an inch"), 1000,
        finest=D("0.1"), called="thou-number", parts=True,
        also_said=("thousandths", "thousandths of an inch"), beside="millimeter",
        only_typed=("mil", "mils"),  # in some shops a thousandth of an inch, in others a millimeter
        read_in=("thou-number",),
        sounds=("TH AW",), respelled="thow",
    ),
    Unit(
        "inch", "length", "inch", "inch", "inches", "in", ("in", '"'),
        finest=D("0.0001"), called="inch-number", parts=True, beside="millimeter",
        read_in=("inch-number",),
        fractions=True,
    ),
    Unit(
        "foot", "length", "foot", "foot", "feet", "ft", ("ft",),
        finest=D("0.01"), called="coarse-number", parts=True, beside="meter",
    ),
    Unit(
        "millimeter", "length", "millimeter", "millimeter", "millimeters", "mm", ("mm",),
        finest=D("0.001"), called="millimeter-number", parts=True, beside="inch",
        read_in=("millimeter-number",),
        beside_small=(D("2.5"), "thou"),
    ),
    Unit(
        "centimeter", "length", "centimeter", "centimeter", "centimeters", "cm", ("cm",),
        finest=D("0.01"), called="millimeter-number", parts=True, beside="inch",
    ),
    Unit(
        "meter", "length", "meter", "meter", "meters", "m", ("m",),
        finest=D("0.01"), called="", beside="foot",  # sounds too much like "liters"
    ),
    Unit(
        "psi", "pressure", "psi", "p s i", "p s i", "psi",
        ("lbf/in2", "lb/in2", "lbs/in2", "lb", "lbs"),
        also_said=("pounds",), beside="kilopascal",
        read_in=("dial-number", "whole-number",),
    ),
    Unit(
        "kilopascal", "pressure", "kilopascal", "kilopascal", "kilopascals", "kPa", ("kpa",),
        finest=D(1), called="whole-number", also_said=("k p a",), beside="psi",
        read_in=("whole-number",),
        sounds=("K IH L OW P AE S K AH L", "K IH L AH P AE S K AE L"),
    ),
    Unit("bar", "pressure", "bar", "bar", "bar", "bar", ("bars",), finest=D("0.01"), beside="psi",
        read_in=("dial-number",),
    ),
    Unit(
        "kilogram per square centimeter", "pressure", "kilogram_force / centimeter ** 2",
        "kilogram per square centimeter", "kilograms per square centimeter", "kg/cm²",
        ("kg/cm2", "kgf/cm2", "kp/cm2", "kg/cm²", "kgf/cm²"), finest=D("0.01"), beside="psi",
    ),
    Unit(
        "foot pound", "torque", "foot * pound_force", "foot pound", "foot pounds", "ft·lbf",
        ("ft lbf", "ft lb", "ft lbs", "foot lb", "foot lbs", "lbf ft", "lb ft", "lbs ft"),
        beside="newton meter",
        read_in=("dial-number",),
    ),
    Unit(
        "inch pound", "torque", "inch * pound_force", "inch pound", "inch pounds", "in·lbf",
        ("in lbf", "in lb", "in lbs", "inch lb", "inch lbs", "lbf in", "lb in", "lbs in"),
        finest=D(1), beside="newton meter",
        read_in=("dial-number",),
    ),
    Unit(
        "newton meter", "torque", "newton * meter", "newton meter", "newton meters", "N·m",
        ("n m",), beside="foot pound",
        read_in=("dial-number",),
    ),
    Unit(
        "kilogram meter", "torque", "kilogram_force * meter", "kilogram meter", "kilogram meters",
        "kgf·m", ("kgf m", "kg m", "kp m"), finest=D("0.01"), beside="foot pound",
    ),
    Unit(
        "celsius", "temperature", "degree_Celsius", "degree celsius", "degrees celsius", "°C",
        ("°c", "c", "deg c", "degree c", "degrees c", "centigrade", "degree centigrade",
         "degrees centigrade"),
        called="signed-number", also_said=("celsius",), beside="fahrenheit",
        read_in=("signed-number",),
        names="celsius",
    ),
    Unit(
        "fahrenheit", "temperature", "degree_Fahrenheit", "degree fahrenheit", "degrees fahrenheit",
        "°F", ("°f", "f", "deg f", "degree f", "degrees f"),
        called="signed-number", also_said=("fahrenheit",), beside="celsius",
        read_in=("signed-number",),
        names="fahrenheit",
    ),
    Unit("volt", "voltage", "volt", "volt", "volts", "V", ("v",), finest=D("0.01"),
         called="volt-number",
        read_in=("volt-number",),
        left_out=True,
    ),
    Unit("ohm", "resistance", "ohm", "ohm", "ohms", "Ω", ("ω",),
        read_in=("dial-number",),
    ),
    Unit(
        "kilohm", "resistance", "kiloohm", "kilohm", "kilohms", "kΩ",
        ("kiloohm", "kiloohms", "kohm", "kohms", "k ohm", "k ohms", "kω", "k ω"), finest=D("0.01"),
        read_in=("dial-number",),
        sounds=("K IH L OW M",), respelled="kill ohm",
    ),
    Unit("rpm", "speed", "1/minute", "r p m", "r p m", "rpm", ("1/min", "/min"), finest=D(1),
         called="whole-number", also_said=("revs",),
        read_in=("whole-number",),
        left_out=True,
    ),
    Unit("percent", "percent", "", "percent", "percent", "%", ("%", "per cent"), 100,
        read_in=("dial-number",),
    ),
    Unit("hertz", "frequency", "hertz", "hertz", "hertz", "Hz", ("hz",),
        read_in=("dial-number",),
        left_out=True,
    ),
    Unit("watt", "power", "watt", "watt", "watts", "W", ("w",), finest=D(1),
          called="whole-number",
        read_in=("whole-number",),
    ),
    Unit(
        "amp", "current", "ampere", "amp", "amps", "A", ("ampere", "amperes"),
        finest=D("0.01"),
        read_in=("dial-number",),
    ),
    Unit(
        "milliamp", "current", "milliampere", "milliamp", "milliamps", "mA",
        ("milliampere", "milliamperes", "ma"),
        read_in=("dial-number",),
        sounds=("M IH L IY AE M P",),
    ),
    # Turns of a screw, counted from where it is seated: a plain number.
    Unit("turn", "turns", "", "turn", "turns", "turns", finest=D("0.01"), called="",
        read_in=("turn-number",),
    ),
    *_volumes(
        "ounce", "fluid_ounce", "imperial_fluid_ounce", "fl oz", "fl oz", "oz",
        fluid=True, beside="milliliter",
    ),
    *_volumes("pint", "pint", "imperial_pint", "pt", "pt", "pts", beside="milliliter"),
    *_volumes("quart", "quart", "imperial_quart", "qt", "qt", "qts", beside="liter"),
    *_volumes("gallon", "gallon", "imperial_gallon", "gal", "gal", "gals", beside="liter"),
    Unit(
        "milliliter", "volume", "milliliter", "milliliter", "milliliters", "mL",
        ("ml", "cc", "cm3", "cm³", "cubic centimeter", "cubic centimeters"),
        finest=D(1), called="coarse-number", parts=True, beside="ounce",
    ),
    Unit(
        "liter", "volume", "liter", "liter", "liters", "L", ("l",),
        finest=D("0.01"), called="coarse-number", parts=True, beside="ounce",
    ),
    Unit(
        "cubic inch", "volume", "inch ** 3", "cubic inch", "cubic inches", "cu in",
        ("cu in", "cubic in", "in3", "in³"), beside="milliliter",
    ),
    Unit("second", "time", "second", "second", "seconds", "s", ("sec", "secs", "s"), finest=D(1),
         called=""),
    Unit("minute", "time", "minute", "minute", "minutes", "min", ("min", "mins"), called=""),
    Unit("hour", "time", "hour", "hour", "hours", "h", ("hr", "hrs", "h"), finest=D("0.01"),
         called="",
        read_in=("meter-number",),
        left_out=True,
    ),
    Unit(
        "pound", "mass", "pound", "pound", "pounds", "lb", ("lb", "lbs", "lbm"),
        finest=D("0.01"), called="coarse-number", parts=True, beside="kilogram",
    ),
    Unit(
        "weight ounce", "mass", "ounce", "ounce", "ounces", "oz", ("oz", "avoirdupois ounce"),
        called="coarse-number", parts=True, beside="gram",
        names="weight ounces",
    ),
    Unit(
        "kilogram", "mass", "kilogram", "kilogram", "kilograms", "kg",
        ("kg", "kgs"),
        only_typed=("kilo", "kilos"),  # in a call also a letter of a serial number

        finest=D("0.01"), called="coarse-number", parts=True, beside="pound",
    ),
    Unit(
        "gram", "mass", "gram", "gram", "grams", "g", ("g",),
        called="coarse-number", beside="weight ounce",
    ),
    Unit(
        "horsepower", "power", "horsepower", "horsepower", "horsepower", "hp", ("hp", "bhp"),
        called="coarse-number", beside="kilowatt",
    ),
    Unit(
        "metric horsepower", "power", "metric_horsepower", "metric horsepower",
        "metric horsepower", "PS", ("ps", "metric hp"), called="coarse-number", beside="kilowatt",
    ),
    Unit(
        "kilowatt", "power", "kilowatt", "kilowatt", "kilowatts", "kW", ("kw",),
        finest=D("0.01"), called="coarse-number", beside="horsepower",
        read_in=("dial-number",),
    ),
    Unit(
        "mile per hour", "travel", "mile / hour", "mile per hour", "miles per hour", "mph",
        ("mph",), called="coarse-number", beside="kilometer per hour",
    ),
    Unit(
        "kilometer per hour", "travel", "kilometer / hour", "kilometer per hour",
        "kilometers per hour", "km/h", ("km/h", "kph", "kmh"), called="coarse-number",
        beside="mile per hour",
    ),
    Unit(
        "foot per minute", "travel", "foot / minute", "foot per minute", "feet per minute",
        "ft/min", ("ft/min", "fpm"), finest=D(1), called="whole-number", beside="meter per second",
    ),
    Unit(
        "meter per second", "travel", "meter / second", "meter per second", "meters per second",
        "m/s", ("m/s",), beside="foot per minute",
    ),
)  # fmt: skip


UNITS: Mapping[str, Unit] = MappingProxyType({unit.name: unit for unit in TABLE})
"""Every unit by its name."""
