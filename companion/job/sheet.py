"""The spec sheet: what the machine's figures should be, as the shop keeps them."""
# CONTRACT: field names bind (they may grow); loading and checks are the card-and-sheet owner's.
from __future__ import annotations

from decimal import Decimal

from pydantic import BaseModel, ConfigDict


class SheetModel(BaseModel):
    """Frozen, and refuses keys it does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class SpecTerm(SheetModel):
    """A name and other ways to say it."""

    name: str
    spoken: tuple[str, ...] = ()
    plural: tuple[str, ...] = ()


class SpecReading(SheetModel):
    """The window of one measure; with neither end, the sheet says that nobody knows the figure yet."""

    measure: str
    unit: str
    low: Decimal | None = None
    high: Decimal | None = None
    condition: str | None = None
    spoken: tuple[str, ...] = ()
    source: str = "maker"


class SpecFluid(SheetModel):
    """A fluid and how much of it the machine takes."""

    name: str
    capacity: Decimal | None = None
    unit: str | None = None
    grade: str | None = None
    spoken: tuple[str, ...] = ()
    source: str = "maker"


class SpecSheet(SheetModel):
    """One machine."""

    name: str
    kind: str
    invented: bool = False
    notes: str | None = None
    reading: tuple[SpecReading, ...] = ()
    fluid: tuple[SpecFluid, ...] = ()
    part: tuple[SpecTerm, ...] = ()
