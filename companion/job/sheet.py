"""The spec sheet: what the machine's figures should be, as the shop keeps them."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict

from companion.intent.call import Count, Figure


class SheetModel(BaseModel):
    """Frozen, and refuses keys it does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid", use_attribute_docstrings=True)


class SpecTerm(SheetModel):
    """A name and other ways to say it."""

    name: str
    """What is recorded: singular, lower case."""
    spoken: tuple[str, ...] = ()
    """Every way to say it, in lower-case words; the name itself if empty."""
    plural: tuple[str, ...] = ()
    """Ways to say several; by the usual rule if empty."""


class SpecIdentification(SheetModel):
    """Which machine it is, as its plates say; all of it optional."""

    maker: str | None = None
    """Who made the machine."""
    model: str | None = None
    """The maker's model."""
    serial: str | None = None
    """The machine's serial number."""
    serial_place: str | None = None
    """Where the serial number stands on the machine."""
    year: Count | None = None
    """Year of make."""
    engine: str | None = None
    """The engine in a line: maker, kind, displacement."""
    engine_model: str | None = None
    """The engine maker's model, type and code, as stamped."""
    engine_serial: str | None = None
    """The engine's serial number."""
    engine_serial_place: str | None = None
    """Where it is stamped."""
    cycle: Literal["four-stroke", "two-stroke", "electric"] | None = None
    """How the engine works."""


class SpecReading(SheetModel):
    """The window of one measure; with neither end, nobody knows the figure yet."""

    measure: str
    """What is called out: ``gap``, ``intake clearance``."""
    unit: str
    """A unit's name from ``companion.handbook.units``; it also says what the measure measures."""
    low: Figure | None = None
    """Lower end, in ``unit``; it is in the window."""
    high: Figure | None = None
    """Upper end, in ``unit``; it is in the window."""
    condition: str | None = None
    """How the machine must be for it, in free words: ``no load``, ``throttle open``."""
    engine: Literal["cold", "hot"] | None = None
    """Whether the figure is for a cold or a hot engine; None where it makes no difference."""
    spoken: tuple[str, ...] = ()
    """Every way to say the measure; its name if empty."""
    only_grows: bool = False
    """Whether it only counts up, as an odometer does: a lower value is asked about. Engine hours do
    so on every machine."""
    source: str = "maker"
    """Where the figure is from, or ``common practice``."""


class SpecGrade(SheetModel):
    """What to fill in one range of air temperatures; open where an end is not given.

    ``low`` is in the range. ``high`` is where the next range begins, or the end of the last one.
    """

    grade: str
    """As the can says it: ``SAE 30``."""
    low: Figure | None = None
    """From this temperature up, in ``unit``."""
    high: Figure | None = None
    """Up to this temperature, in ``unit``."""
    unit: Literal["celsius", "fahrenheit"] = "celsius"
    """Of both."""


class SpecFluid(SheetModel):
    """A fluid and how much of it the machine takes."""

    name: str
    """What is called out: ``oil``, ``gear oil``."""
    capacity: Figure | None = None
    """How much it takes, in ``unit``."""
    unit: str | None = None
    """A unit of volume by its name from ``companion.handbook.units``."""
    grade: str | None = None
    """What to put in, as the can says it."""
    grades: tuple[SpecGrade, ...] = ()
    """What to put in by the air temperature to be expected; ranges that meet, each once."""
    check: Literal["dipstick", "level plug", "sight glass", "filler neck"] | None = None
    """By what its level is read."""
    mix: Figure | None = None
    """Of two-stroke fuel: parts of fuel to one of oil."""
    spoken: tuple[str, ...] = ()
    """Every way to say the fluid; its name if empty."""
    source: str = "maker"
    """Where the figure is from, or ``common practice``."""


class SpecTorque(SheetModel):
    """How tight a fastener is; called as "head bolt torque"."""

    fastener: str
    """Its name, singular: ``head bolt``."""
    unit: str
    """A unit of torque by its name from ``companion.handbook.units``."""
    low: Figure | None = None
    """Lower end, in ``unit``; with neither end nobody knows the figure yet."""
    high: Figure | None = None
    """Upper end, in ``unit``."""
    thread: str | None = None
    """Its designation: ``3/8-16``, ``#10-24``, ``M8x1.25``."""
    grade: str | None = None
    """``grade 5``, ``class 8.8``."""
    condition: Literal["dry", "oiled", "anti seize", "thread locker"] | None = None
    """How the thread must be for this figure."""
    count: Count | None = None
    """How many there are."""
    order: str | None = None
    """In what order and how many passes: ``crosswise, in two passes``."""
    engine: Literal["cold", "hot"] | None = None
    """Whether the figure is for a cold or a hot engine."""
    spoken: tuple[str, ...] = ()
    """Every way to say the fastener; its name if empty."""
    source: str = "maker"
    """Where the figure is from, or ``common practice``."""


class SpecTire(SheetModel):
    """A tire and its pressure; called as "front tire pressure"."""

    name: str
    """``tire`` where all take the same, else ``front tire``."""
    unit: str = "psi"
    """A unit of pressure by its name from ``companion.handbook.units``."""
    low: Figure | None = None
    """Lower end, in ``unit``."""
    high: Figure | None = None
    """Upper end, in ``unit``."""
    size: str | None = None
    """As it stands on the side wall."""
    source: str = "maker"
    """Where the figure is from, or ``common practice``."""


class SpecBelt(SheetModel):
    """A belt; its deflection is called as "drive belt deflection"."""

    name: str
    """``drive belt``."""
    size: str | None = None
    """As it is ordered."""
    deflection: str | None = None
    """What its deflection is called, if not its name and ``deflection``."""
    unit: str = "inch"
    """A unit of length, for the deflection."""
    low: Figure | None = None
    """Least deflection, in ``unit``."""
    high: Figure | None = None
    """Most deflection, in ``unit``."""
    condition: str | None = None
    """How the deflection is measured: ``thumb pressure at mid span``."""
    source: str = "maker"
    """Where the figure is from, or ``common practice``."""


class SpecBattery(SheetModel):
    """The battery; what it should read at rest stands among the readings."""

    volts: Figure
    """Nominal."""
    ampere_hours: Figure | None = None
    """Capacity."""
    type: Literal["flooded lead acid", "absorbed glass mat", "gel", "lithium"] | None = None
    """How it is built; it decides how it may be charged."""
    size: str | None = None
    """As it is ordered."""


class SpecService(SheetModel):
    """Work that comes back, by whichever comes first of hours, months and season."""

    item: str
    """What: ``engine oil``, ``air filter``."""
    work: str
    """What is done: ``change``, ``clean``, ``check and adjust``."""
    first_hours: Figure | None = None
    """Once, after so many engine hours of a new or rebuilt machine."""
    hours: Figure | None = None
    """Every so many engine hours."""
    months: Count | None = None
    """Every so many months."""
    season: Literal["start", "end"] | None = None
    """At the start of each season or at its end."""
    each_use: bool = False
    """Before each use."""
    note: str | None = None
    """Anything else: ``twice as often in dust``."""
    source: str = "maker"
    """Where the interval is from, or ``common practice``."""


class SpecSheet(SheetModel):
    """One machine."""

    name: str
    """The machine, as the shop calls it; its history is kept under this name."""
    kind: str
    """What sort of machine it is."""
    invented: bool = False
    """Whether machine and figures are made up, for trying things out."""
    notes: str | None = None
    """Anything else, for the page."""
    identification: SpecIdentification = SpecIdentification()
    """Which machine it is."""
    reading: tuple[SpecReading, ...] = ()
    """Measures, each once."""
    fluid: tuple[SpecFluid, ...] = ()
    """Fluids, each once."""
    torque: tuple[SpecTorque, ...] = ()
    """Fasteners, each once."""
    tire: tuple[SpecTire, ...] = ()
    """Tires, each once."""
    belt: tuple[SpecBelt, ...] = ()
    """Belts, each once."""
    battery: SpecBattery | None = None
    """The battery, where there is one."""
    service: tuple[SpecService, ...] = ()
    """Work that comes back, each item and work once."""
    part: tuple[SpecTerm, ...] = ()
    """Parts that a person will name on this machine."""
    condition: tuple[SpecTerm, ...] = ()
    """What can be wrong with them, besides the usual."""
