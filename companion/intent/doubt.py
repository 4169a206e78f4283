"""What speaks against taking a call as it was understood."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from companion.handbook.units import dimension, to_si
from companion.intent.call import SI
from companion.intent.intents import Correction, Finding, Fluid, Intent, Reading, Work
from companion.intent.opposites import opposites
from companion.intent.outcome import Expectation, Listening
from companion.intent.thresholds import Thresholds

ANSWERS = frozenset({"affirm", "negative", "acknowledge"})
"""Intents that answer the companion: to ask whether they were meant makes no sense."""

ENDING = frozenset({"job.park", "job.close", "standby"})
"""Intents after which nothing more is recorded: they must be as clearly calls as a number."""

TO_QUESTIONS = frozenset({"affirm", "negative"})
"""Intents that mean nothing while no question is open."""

SOUND_ALIKE = frozenset(
    frozenset(pair)
    for pair in (
        ("thirteen", "thirty"),
        ("fourteen", "forty"),
        ("fifteen", "fifty"),
        ("sixteen", "sixty"),
        ("seventeen", "seventy"),
        ("eighteen", "eighty"),
        ("nineteen", "ninety"),
        # Radiotelephony says "fife" and "niner" to keep these apart (ICAO Doc 9432).
        ("five", "nine"),
    )
)
"""Number words that are taken for one another in noise."""

TEENS = frozenset(word for pair in SOUND_ALIKE for word in pair if word.endswith("teen"))

NOUGHT = frozenset({"oh", "zero"})

INCH = frozenset({"inch", "inches"})

FIRMER = frozenset({"make", "no", "nope"})
"""Words beside which "wait" is surely the beginning of a correction."""

TENS = {
    "two": "twenty",
    "three": "thirty",
    "four": "forty",
    "five": "fifty",
    "six": "sixty",
    "seven": "seventy",
    "eight": "eighty",
    "nine": "ninety",
}
"""Digits, and the tens that begin like them."""

DIGITS = frozenset({"one", *TENS})

TWO = frozenset({"two", "ten"})
"""What is heard for the end of tens, or lost beside it."""

_TENS, _ENDED = "+", "."
"""Mark a digit that stands for its tens, and one whose "two" was passed over."""

_DIGIT_OF = {
    **{tens: digit for digit, tens in TENS.items()},
    **{
        teen: digit
        for pair in SOUND_ALIKE
        for teen in pair & TEENS
        for digit, tens in TENS.items()
        if tens in pair
    },
}
"""The digit in whose place tens and teens stand."""


def sound_alike(one: Sequence[str], other: Sequence[str]) -> bool:
    """Whether two sentences differ in nothing but number words that sound alike."""
    if len(one) != len(other):
        return False
    pairs = [frozenset(pair) for pair in zip(one, other, strict=True) if pair[0] != pair[1]]
    return bool(pairs) and all(pair in SOUND_ALIKE for pair in pairs)


def tens_in_two_words(words: Sequence[str]) -> str | None:
    """The tens that a digit before "ten" may have been: "ninety" of "nine ten newton meters".

    "Ninety" before a word that begins with an n is heard so, as surely as if it had been said;
    nobody at hand calls nine hundred and ten that way.
    """
    return next(
        (TENS[one] for one, after in pairwise(words) if after == "ten" and one in TENS), None
    )


def teen_before_n(words: Sequence[str]) -> bool:
    """Whether a teen stands before a word that begins with an n: "fifty newton meters" and "fifteen
    newton meters" differ in little but the stress. Of all that was heard as such a teen a third had
    been said as tens (our own measurement, with synthetic voices)."""
    return any(one in TEENS and after.startswith("n") for one, after in pairwise(words))


def differ_by_two(best: Sequence[str], other: Sequence[str], *, teens: bool = False) -> bool:
    """Whether two sentences differ in nothing but a "two" after a digit or tens, or in whether it
    is the one or the other: "sixty", "sixty two" and "six two" are heard for one another in noise,
    and "six ten" for each of them (our own measurement, with synthetic voices).

    Args:
        best: The words of one.
        other: The words of the other.
        teens: Whether "sixteen" is one of them too.
    """
    return tuple(best) != tuple(other) and _without_two(best, teens) == _without_two(other, teens)


def _without_two(words: Sequence[str], teens: bool) -> list[str]:
    kept: list[str] = []
    after = [*words[1:], ""]
    for word, following in zip(words, after, strict=True):
        if word in TWO and kept[-1:] and kept[-1].endswith(_TENS):
            kept[-1] += _ENDED
        elif word in _DIGIT_OF and (teens or word not in TEENS):
            kept.append(_DIGIT_OF[word] + _TENS)
        elif word in TENS and following in TWO:
            kept.append(word + _TENS)
        else:
            kept.append(word)
    return [word.removesuffix(_ENDED) for word in kept]


def differ_by_opposites(best: Sequence[str], other: Sequence[str]) -> bool:
    """Whether two sentences differ in one word, and the one is the opposite of the other: "oil
    level full", "oil level low". Nothing of the sentence speaks for the one or the other, and the
    wrong one sends a hand, or a start, where it must not go."""
    if len(best) != len(other):
        return False
    pairs = [pair for pair in zip(best, other, strict=True) if pair[0] != pair[1]]
    return len(pairs) == 1 and pairs[0][1] in opposites(pairs[0][0])


def thousandths_in_two_places(words: Sequence[str]) -> bool:
    """Whether a figure like "point oh six inch" is called: a digit may have been lost, since
    thousandths of an inch are called to three places (common practice). "Two" before "inch" is lost
    so that nothing else speaks for it (our own measurement, with synthetic voices)."""
    return any(
        point == "point" and none in NOUGHT and digit in DIGITS and unit in INCH
        for point, none, digit, unit in zip(words, words[1:], words[2:], words[3:], strict=False)
    )


def corrected_by_wait(words: Sequence[str], intent: Intent) -> bool:
    """Whether "wait" before the figure is all that makes a correction of it: "wait thirty thou".
    "Gap" and "play" are heard so two meters away or in noise, as surely as if that had been said
    (our own measurement, with synthetic voices), and it would be written over what was read before.
    """
    return isinstance(intent, Correction) and "wait" in words and not FIRMER & set(words)


def has_number(intent: Intent) -> bool:
    """Whether a wrong number would make this another call."""
    if isinstance(intent, Work | Finding) and intent.count == 1:
        return False  # nobody called a number
    numbers = ("value", "seconds", "count", "size", "ratio", "bore", "serial")
    return any(getattr(intent, name, None) is not None for name in numbers)


def fits_what_it_corrects(intent: Intent, listening: Listening) -> bool:
    """Whether a correction is in a unit of what it would correct; True of every other intent.

    "Thirty one ounces" and "thirty one thou" sound alike, but a gap is corrected in thou.
    """
    unit = listening.correcting_unit
    if not isinstance(intent, Correction) or intent.unit is None or unit is None:
        return True
    return dimension(intent.unit) == dimension(unit)


def in_unit_corrected(intent: Intent, listening: Listening) -> Intent:
    """Return a correction without a unit in the unit of what it corrects; others as they are."""
    unit = listening.correcting_unit
    if not isinstance(intent, Correction) or intent.unit is not None or unit is None:
        return intent
    value, si_unit = to_si(intent.value, unit, ounce=listening.ounce)
    si = SI.model_validate({"value": float(value), "unit": si_unit})
    return intent.model_copy(update={"unit": unit, "si": si})


def far_from_expected(intent: Intent, listening: Listening, thresholds: Thresholds) -> str | None:
    """Say how far a value is from what the spec sheet expects, if that is far enough for doubt.

    Args:
        intent: The call.
        listening: What the decision needs to know besides.
        thresholds: How sure is sure enough.

    Returns:
        A short phrase ("10 times the spec"), or None if the value is near enough or nothing is
        expected. Of a fluid only more than the machine takes is doubted, since it is filled little
        by little.
    """
    name, si = expected_of(intent, listening)
    expected = (listening.expectations or {}).get(name) if name else None
    if expected is None or si is None or si.unit != expected.unit:
        return None
    if si.unit == "K":
        return _far_in_kelvins(si.value, expected, thresholds)
    low, high = expected.low, expected.high
    top = _times(high, thresholds.far) or _times(low, thresholds.far_open)
    if top is not None and si.value > top:
        return f"{si.value / (high or low or 1):.3g} times the spec"
    if isinstance(intent, Fluid):
        return None
    bottom = _times(low, 1 / thresholds.far)
    if bottom is None and low is None:
        bottom = _times(high, 1 / thresholds.far_open)
    if bottom is not None and si.value < bottom:
        return f"{si.value / (low or high or 1):.2g} of the spec"
    return None


def is_expected(intent: Intent, listening: Listening) -> bool:
    """Whether a value is inside its window; False also where nothing is expected."""
    name, si = expected_of(intent, listening)
    expected = (listening.expectations or {}).get(name) if name else None
    if expected is None or si is None or si.unit != expected.unit:
        return False
    if expected.low is None and expected.high is None:
        return False
    above = expected.low is None or si.value >= expected.low
    return above and (expected.high is None or si.value <= expected.high)


def expected_of(intent: Intent, listening: Listening) -> tuple[str | None, SI | None]:
    """Return what this value is a value of, and the value in SI; None where it is no value."""
    if isinstance(intent, Reading):
        return intent.measure, intent.si
    if isinstance(intent, Fluid):
        # The most that may come out is the machine's capacity; the most that may go in is the room
        # left.
        drained = intent.action == "drained" and intent.fluid is not None
        return f"{intent.fluid} drained" if drained else intent.fluid, intent.si
    if isinstance(intent, Correction) and listening.correcting:
        unit = listening.correcting_unit
        if intent.si is None and unit is not None:
            value, si_unit = to_si(intent.value, unit, ounce=listening.ounce)
            si = SI.model_validate({"value": float(value), "unit": si_unit})
            return listening.correcting, si
        return listening.correcting, intent.si
    return None, None


def _times(end: float | None, factor: float) -> float | None:
    """An end of the window moved outwards; None where there is none to multiply."""
    return end * factor if end else None


def _far_in_kelvins(value: float, expected: Expectation, thresholds: Thresholds) -> str | None:
    """Twice a temperature means nothing; a distance does."""
    over = value - expected.high if expected.high is not None else 0.0
    under = expected.low - value if expected.low is not None else 0.0
    off = max(over, under)
    return f"{off:.0f} degrees celsius off the spec" if off > thresholds.far_kelvins else None
