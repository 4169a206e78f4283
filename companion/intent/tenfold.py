"""A value ten times the usual, or a tenth of it, where the other would fit: a slip of the tongue,
of the ear, or of the decimal point."""

from __future__ import annotations

from decimal import Decimal

from companion.handbook.units import to_si
from companion.intent.call import SI
from companion.intent.doubt import expected_of, far_from_expected, is_expected
from companion.intent.intents import Correction, Fluid, Intent, Reading
from companion.intent.outcome import Expectation, Listening
from companion.intent.thresholds import Thresholds

NEAR_THE_LAST = 0.3
"""How far from the last reading, as a share of it, a value still fits it; our own figure."""

SAME = 1e-9
"""Relative difference below which a value in floating point is the end of the window itself."""


def tenfold(intent: Intent, listening: Listening, thresholds: Thresholds) -> Intent | None:
    """Return the same call with a tenth of the value, or ten times it, if only that would fit.

    What fits is the window of the sheet, or, where nobody knows one, the last reading; of a window
    with one end, what is within ``thresholds.far`` of that end. Twenty degrees and two hundred are
    both possible temperatures, so that those must be far off as well.

    Args:
        intent: The call.
        listening: What the decision needs to know besides.
        thresholds: How sure is sure enough.

    Returns:
        The other call, or None where there is no such doubt.
    """
    if not isinstance(intent, Reading | Fluid | Correction) or not intent.value:
        return None
    name, si = expected_of(intent, listening)
    expected = (listening.expectations or {}).get(name) if name else None
    if expected is None or si is None or si.unit != expected.unit:
        return None
    far = far_from_expected(intent, listening, thresholds) is not None
    if not far and (si.unit == "K" or _in_window(intent, listening, expected)):
        return None
    # The value that is to be replaced cannot make its correction doubtful.
    usual = None if isinstance(intent, Correction) else expected.usual
    for power in (-1, 1):
        other = _scaled(intent, power, listening)
        other_si = expected_of(other, listening)[1]
        if other_si is not None and _fits(other_si.value, expected, usual, thresholds.far):
            return other
    return None


def _in_window(intent: Intent, listening: Listening, expected: Expectation) -> bool:
    has_window = expected.low is not None or expected.high is not None
    return has_window and is_expected(intent, listening)


def _fits(value: float, expected: Expectation, usual: float | None, far: float) -> bool:
    low, high = expected.low, expected.high
    if low is None and high is None:
        return usual is not None and abs(value - usual) <= NEAR_THE_LAST * abs(usual)
    if low is None and high is not None:
        low = high / far
    if high is None and low is not None:
        high = low * far
    assert low is not None
    assert high is not None
    slack = SAME * max(abs(low), abs(high))
    return low - slack <= value <= high + slack


def _scaled(
    intent: Reading | Fluid | Correction, power: int, listening: Listening
) -> Reading | Fluid | Correction:
    """The same call with its value times ten to this power."""
    shifted = format(intent.value.scaleb(power), "f")
    value = Decimal(shifted.rstrip("0").rstrip(".") if "." in shifted else shifted)
    si = None
    if intent.unit is not None:
        amount, si_unit = to_si(value, intent.unit, ounce=listening.ounce)
        si = SI.model_validate({"value": float(amount), "unit": si_unit})
    return intent.model_copy(update={"value": value, "si": si})
