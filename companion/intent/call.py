"""What every intent is made of: exact decimals, quantities, and the name of the call."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, PlainSerializer


def _plainly(value: Decimal) -> str:
    return format(value, "f")


ExactDecimal = Annotated[
    Decimal, PlainSerializer(_plainly, return_type=str, when_used="json-unless-none")
]
"""A decimal that JSON holds as a string with every digit as spoken and never an exponent."""


class Model(BaseModel):
    """Frozen, and refuses keys it does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class SI(Model):
    """A value in the coherent unit of its dimension.

    Attributes:
        value: As a float: for comparison and plotting; the exact value stands beside it.
        unit: One of ``m m3 Pa N.m K V ohm s 1/min 1``.
    """

    value: float
    unit: Literal["m", "m3", "Pa", "N.m", "K", "V", "ohm", "s", "1/min", "1"]


class Call(Model):
    """What every intent has: its name, the first key in JSON."""

    intent: str


class Quantity(Call):
    """A number with a unit, as spoken.

    Attributes:
        value: The exact decimal as spoken ("three eighths" is 0.375).
        unit: A unit's name from ``companion.handbook.units``, such as ``thou`` or ``foot pound``.
        si: The same in SI.
    """

    value: ExactDecimal
    unit: str
    si: SI
