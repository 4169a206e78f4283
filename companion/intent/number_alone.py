"""A number said alone, while a reading or a volume is asked about: "seventeen?", "seventeen"."""

from __future__ import annotations

from collections.abc import Sequence

from companion.grammar.compiled import CallGrammar
from companion.grammar.numbers_alone import CARRIER
from companion.handbook.units import dimension, to_si
from companion.intent.call import SI
from companion.intent.intents import Correction, Fluid, Intent, Reading
from companion.intent.meaning import call_sign_length, meanings
from companion.intent.outcome import Listening


def with_number_alone(
    words: Sequence[str], grammar: CallGrammar, listening: Listening
) -> tuple[Intent, ...]:
    """Return the call that is asked about, with the number that was said in place of its own.

    Args:
        words: A number, with or without its unit and the call sign; lower case.
        grammar: What may be said.
        listening: With the call that is asked about.

    Returns:
        One intent for each meaning of the number; none where no number is asked about, or the words
        are no number in its unit.
    """
    doubted = listening.doubted[0] if listening.doubted else None
    if not isinstance(doubted, Reading | Fluid):
        return ()
    number = words[call_sign_length(words, grammar) :]
    if not number:
        return ()
    said = meanings((CARRIER, *number), grammar, listening.ounce, doubted.unit)
    # In noise "twenty eight" is soon "twenty inch": another unit takes the whole call.
    found = (
        in_place_of(doubted, each, listening)
        for each in said
        if isinstance(each, Correction) and each.unit in (None, doubted.unit)
    )
    return tuple(dict.fromkeys(each for each in found if each is not None))


def in_place_of(
    doubted: Reading | Fluid, correction: Correction, listening: Listening
) -> Reading | Fluid | None:
    """Return a call with another value; None where it cannot have it.

    Args:
        doubted: The call.
        correction: The value; without a unit, the call's own holds.
        listening: Which ounce is meant.
    """
    if correction.value < 0 and isinstance(doubted, Fluid):
        return None
    unit, si = correction.unit, correction.si
    if unit is None or si is None:
        unit = doubted.unit
        value, si_unit = to_si(correction.value, unit, ounce=listening.ounce)
        si = SI.model_validate({"value": float(value), "unit": si_unit})
    elif dimension(unit) != dimension(doubted.unit):
        return None
    return doubted.model_copy(update={"value": correction.value, "unit": unit, "si": si})
