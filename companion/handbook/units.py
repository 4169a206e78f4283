"""The units of the trade: one table for hearing, recording, judging and speaking them."""
# CONTRACT STUB: the handbook's owner fills this in; signatures and unit names bind.
from __future__ import annotations

from decimal import Decimal
from typing import Literal

OunceSystem = Literal["us", "imperial"]

# Unit names (singular, lower case), by dimension:
#   length: thou inch millimeter            pressure: psi kilopascal bar
#   torque: "foot pound" "inch pound" "newton meter"   temperature: celsius fahrenheit
#   voltage: volt   resistance: ohm kilohm   speed: rpm   percent: percent
#   volume: ounce pint quart gallon milliliter liter   time: second minute hour


def to_si(value: Decimal, unit: str, *, ounce: OunceSystem = "us") -> tuple[Decimal, str]:
    """Exact value in SI and the SI unit (m m3 Pa N.m K V ohm s 1/min 1). Raises ValueError on an unknown unit."""
    raise NotImplementedError


def convert(value: Decimal, unit: str, to: str, *, ounce: OunceSystem = "us") -> Decimal:
    """Value in another unit of the same dimension, unrounded. Raises ValueError where they do not fit."""
    raise NotImplementedError


def dimension(unit: str) -> str:
    """Dimension of a unit: length, pressure, torque, temperature, voltage, resistance, speed, percent, volume, time."""
    raise NotImplementedError


def spoken(unit: str, *, plural: bool) -> str:
    """How the unit is said: "foot pounds", "p s i", "degrees celsius"."""
    raise NotImplementedError


def written(unit: str) -> str:
    """Symbol for the page: "ft·lbf", "psi", "°C", "0.001 in" (thou) and the like."""
    raise NotImplementedError
