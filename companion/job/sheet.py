"""The spec sheet: what the machine's figures should be, as the shop keeps them."""

from __future__ import annotations

from decimal import Decimal

from pydantic import BaseModel, ConfigDict


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


class SpecReading(SheetModel):
    """The window of one measure; with neither end, nobody knows the figure yet."""

    measure: str
    """What is called out: ``gap``, ``intake clearance``."""
    unit: str
    """A unit's name from ``companion.handbook.units``; it also says what the measure measures."""
    low: Decimal | None = None
    """Lower end, in ``unit``; it is in the window."""
    high: Decimal | None = None
    """Upper end, in ``unit``; it is in the window."""
    condition: str | None = None
    """How the machine must be for it: ``cold``, ``no load``."""
    spoken: tuple[str, ...] = ()
    """Every way to say the measure; its name if empty."""
    source: str = "maker"
    """Where the figure is from, or ``common practice``."""


class SpecFluid(SheetModel):
    """A fluid and how much of it the machine takes."""

    name: str
    """What is called out: ``oil``, ``gear oil``."""
    capacity: Decimal | None = None
    """How much it takes, in ``unit``."""
    unit: str | None = None
    """A unit of volume by its name from ``companion.handbook.units``."""
    grade: str | None = None
    """What to put in, as the can says it."""
    spoken: tuple[str, ...] = ()
    """Every way to say the fluid; its name if empty."""
    source: str = "maker"
    """Where the figure is from, or ``common practice``."""


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
    reading: tuple[SpecReading, ...] = ()
    """Measures, each once."""
    fluid: tuple[SpecFluid, ...] = ()
    """Fluids, each once."""
    part: tuple[SpecTerm, ...] = ()
    """Parts that a person will name on this machine."""
    condition: tuple[SpecTerm, ...] = ()
    """What can be wrong with them, besides the usual."""
