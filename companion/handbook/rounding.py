"""Results cut to the figures that a person would say."""

from __future__ import annotations

import math
from decimal import ROUND_DOWN, ROUND_HALF_EVEN, Decimal, localcontext

PI = Decimal(str(math.pi))
"""Seventeen digits: more than any tape measure gives."""


def to_step(value: Decimal, step: Decimal | int | str) -> Decimal:
    """Round to a multiple of a step, halves to the even one.

    Args:
        value: Finite.
        step: Above zero, in the unit of the value.
    """
    return _stepped(value, Decimal(step), ROUND_HALF_EVEN)


def down_to_step(value: Decimal, step: Decimal | int | str) -> Decimal:
    """Round toward zero to a multiple of a step: for a limit that must not be passed."""
    return _stepped(value, Decimal(step), ROUND_DOWN)


def to_digits(value: Decimal, digits: int) -> Decimal:
    """Round to so many significant digits; zero stays zero."""
    if not value:
        return Decimal(0)
    return to_step(value, Decimal(1).scaleb(value.adjusted() - digits + 1))


def _stepped(value: Decimal, step: Decimal, how: str) -> Decimal:
    with localcontext() as context:
        context.prec = 60
        steps = (value / step).to_integral_value(how)
        return steps * step
