"""A call that was said again: what was heard the first time counts beside what is heard now.

The noise of a shop differs from one second to the next, so that two hearings of one call err
independently, but for what a voice and a microphone do to it both times. The logarithms of their
confidences are added, and the sum is discounted for what they share.

Two that agree may make a record of what would have been asked about. Two that differ never do: of a
second hearing that would have been recorded by itself they may make a question, where the first was
for something else and not merely undecided. So hearings that are wrong in different ways make
nothing surer.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from companion.intent.doubt import ANSWERS
from companion.intent.outcome import Hearing, Likely
from companion.intent.second import same_but_for_figures
from companion.intent.understood import Understood

DISCOUNT = 0.7
"""What the sum of two logarithms counts, where 1 would be two hearings with nothing in common; our
own figure (``docs/hearing.md`` has what it brings)."""

DISCOUNT_ALONE = 0.6
"""The same where the second is the number alone: one short word, which a voice that is hard to hear
says twice in the same way."""

EITHER_SHARE = 0.3
"""From this share of the likelier one on, two figures are about as likely, and a question names
both; below it, the likelier. Our own figure."""

UNHEARD = 0.01
"""Confidence of a meaning in a hearing that does not list it: not being listed is weak evidence,
since only the best few are."""


def hearing_of(calls: Sequence[Understood], call_confidence: float) -> Hearing | None:
    """Return what a call may have been, to be put beside what is heard when it is said again.

    Args:
        calls: Each of another meaning, best first, by their sound alone.
        call_confidence: As the engine gave it.
    """
    if not calls:
        return None
    likely = tuple(Likely(each.words, each.intents, each.confidence) for each in calls)
    return Hearing(likely, call_confidence)


def same_call(calls: Sequence[Understood], before: Hearing | None) -> bool:
    """Whether two hearings are of one call, but for the figures in it. An answer is none: a tag
    never comes down by an "affirm" that was hardly heard, however often."""
    return (
        before is not None
        and bool(calls)
        and calls[0].intents[0].intent not in ANSWERS
        and same_but_for_figures(calls[0].intents[0], before.likely[0].intents[0])
    )


def agree(calls: Sequence[Understood], before: Hearing) -> bool:
    """Whether the same was heard best both times, the figures too."""
    return calls[0].intents[0] == before.likely[0].intents[0]


def differ(calls: Sequence[Understood], before: Hearing) -> bool:
    """Whether the first hearing spoke against what is heard best now. Where it had both about as
    likely, it says nothing of which: "seventeen or seventy?" was asked, and is answered."""
    first = before.likely[0].confidence
    now = calls[0].intents[0]
    then = next((each.confidence for each in before.likely if each.intents[0] == now), 0.0)
    return then < EITHER_SHARE * first


def together(calls: Sequence[Understood], before: Hearing) -> list[Understood]:
    """Add what was heard before to what was heard now.

    Args:
        calls: Heard now, each of another meaning, best first, by their sound alone.
        before: The same call heard before.

    Returns:
        What either of them heard. What is heard best now stays first.
    """
    earlier = {each.intents[0]: each.confidence for each in before.likely}
    now = {each.intents[0] for each in calls}
    every = [
        *calls,
        *(
            Understood(each.words, each.intents, 0.0, calls[0].call_sign)
            for each in before.likely
            if each.intents[0] not in now
        ),
    ]
    # What neither lists is one more thing that it may have been.
    unlisted = tuple(1 - sum(each.confidence for each in found) for found in (calls, before.likely))
    scores = [
        *(_log(call.confidence) + _log(earlier.get(call.intents[0], 0.0)) for call in every),
        sum(map(_log, unlisted)),
    ]
    shares = _shares([_discount(calls) * score for score in scores])
    joint = [replace(call, confidence=share) for call, share in zip(every, shares, strict=False)]
    return [joint[0], *sorted(joint[1:], key=lambda call: -call.confidence)]


def call_confidence_together(
    confidence: float, calls: Sequence[Understood], before: Hearing
) -> float:
    """Return how sure it is that a call was made which was heard alike twice.

    Args:
        confidence: That it was one, by this hearing.
        calls: Heard now, best first.
        before: The other hearing.
    """
    odds = _discount(calls) * (_log_odds(confidence) + _log_odds(before.call_confidence))
    return max(confidence, 1 / (1 + math.exp(-odds)))


def _discount(calls: Sequence[Understood]) -> float:
    return DISCOUNT_ALONE if calls[0].number_alone else DISCOUNT


def _log(confidence: float) -> float:
    return math.log(max(confidence, UNHEARD))


def _log_odds(probability: float) -> float:
    within = min(max(probability, UNHEARD), 1 - 1e-6)
    return math.log(within / (1 - within))


def _shares(logarithms: Sequence[float]) -> list[float]:
    top = max(logarithms)
    weights = [math.exp(each - top) for each in logarithms]
    return [weight / sum(weights) for weight in weights]
