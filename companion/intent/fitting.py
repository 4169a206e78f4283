"""What the job expects of a figure, as evidence beside the sound.

The sheet's window and what was read last say which of two figures is likelier. That must never
make a figure heard that was not said, so the rule is narrow:

* The call that the sound speaks for most stays first, whatever is expected.
* Only calls that differ in nothing but their figures are weighed against each other, and together
  they stay as likely as they were.
* Where the figure that sounds best fits, those that do not fit count ``ODDS`` times less than
  they sound: fewer questions. One that sounds nearly as good still has the question put, and so
  has one that fits too. Between seventeen and seventy the sound alone decides: noise makes either
  of the other, and a sheet that wants the wrong one would have it recorded (``docs/hearing.md``).
* Where the figure that sounds best does not fit and another one does, that one counts ``ODDS``
  times more than it sounds: the question is put sooner, with what sounds best first. Nothing is
  recorded that would not have been without it.
* Where nothing is expected, or nothing of it fits, or everything does, only the sound counts.

A figure fits from ``MARGIN`` times below the window to ``MARGIN`` times above it, since machines
are measured because they may be out. One that does not fit is never impossible: heard clearly it
is taken as ever.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from companion.intent.doubt import expected_of, sound_alike
from companion.intent.intents import Intent
from companion.intent.outcome import Expectation, Listening
from companion.intent.second import same_but_for_figures
from companion.intent.tenfold import NEAR_THE_LAST
from companion.intent.understood import Understood

ODDS = 4.0
"""How many times likelier a figure that fits is than one that does not; our own figure, far below
what the readings of a shop would bear out, since a machine is read where it may be wrong."""

MARGIN = 1.5
"""How many times beyond the ends of its window a figure still fits."""

MARGIN_KELVINS = 20.0
"""The same of a temperature: twice one means nothing."""


def fits(intent: Intent, listening: Listening) -> bool | None:
    """Whether a figure is what the job expects, with a wide margin; None where it expects nothing.

    The sheet's window counts; where there is none, what was read last.
    """
    name, si = expected_of(intent, listening)
    expected = (listening.expectations or {}).get(name) if name else None
    if expected is None or si is None:
        return None
    if expected.low is None and expected.high is None and expected.usual is None:
        return None
    return si.unit == expected.unit and _within(si.value, expected)


def by_fit(calls: Sequence[Understood], listening: Listening) -> list[Understood]:
    """Weigh figures by what the job expects of them; see the rule above.

    Args:
        calls: Each of another meaning, best first.
        listening: With what is expected.

    Returns:
        The same calls, the first of them first.
    """
    if not calls:
        return []
    best = calls[0]
    fit = fits(best.intents[0], listening)
    if fit is None:
        return list(calls)
    alike = [
        place
        for place, call in enumerate(calls)
        if same_but_for_figures(best.intents[0], call.intents[0])
    ]
    odds = {
        place: ODDS if _favoured(calls[place], best, listening, fit=fit) else 1.0 for place in alike
    }
    if len(set(odds.values())) < 2:
        return list(calls)
    before = sum(calls[place].confidence for place in alike)
    after = sum(calls[place].confidence * odds[place] for place in alike)
    if after <= 0:
        return list(calls)
    shared = {
        place: min(1.0, calls[place].confidence * odds[place] * before / after) for place in alike
    }
    weighed = [
        replace(call, confidence=shared.get(place, call.confidence))
        for place, call in enumerate(calls)
    ]
    return [weighed[0], *sorted(weighed[1:], key=lambda call: -call.confidence)]


def _favoured(call: Understood, best: Understood, listening: Listening, *, fit: bool) -> bool:
    """Whether a figure counts for more than one that does not fit."""
    if any(fits(each, listening) for each in call.intents):
        return True
    return fit and sound_alike(best.words, call.words)


def _within(value: float, expected: Expectation) -> bool:
    low, high = expected.low, expected.high
    if low is None and high is None:
        usual = expected.usual
        return usual is not None and abs(value - usual) <= NEAR_THE_LAST * abs(usual)
    if expected.unit == "K":
        return (low is None or value >= low - MARGIN_KELVINS) and (
            high is None or value <= high + MARGIN_KELVINS
        )
    return (low is None or value >= _beyond(low, 1 / MARGIN)) and (
        high is None or value <= _beyond(high, MARGIN)
    )


def _beyond(end: float, factor: float) -> float:
    """An end of a window moved away from the other; below zero the factor turns around."""
    return end * factor if end >= 0 else end / factor
