"""Of a part, whether one was called or all of its kind: "tightened handle bolt", "… bolts"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from companion.intent.intents import Work
from companion.intent.understood import Understood, of_one

RIVAL_SHARE = 0.3
"""From this share of the likelier one on, "bolt" and "bolts" are asked about; below it the likelier
is taken (``docs/measurements.md``)."""

RIVAL_SHARE_OF_ALL = 0.025
"""The same where the likelier is work on all of them: it ends what is known of every one that was
left loose, and nothing would show that one was meant. Of such calls that were recorded so and were
of one, the one had a share from 0.03 to 0.17 in four of five (by neural voices)."""


def one_or_all(calls: Sequence[Understood]) -> list[Understood]:
    """Leave out "bolt" where "bolts" is far likelier, and the other way: the readback tells them
    apart, and a question would tell no more. Where neither is, both stay, to be asked about.

    Args:
        calls: Of different meaning, the likeliest first.
    """
    kept: list[Understood] = []
    for call in calls:
        place = next((at for at, each in enumerate(kept) if is_one_or_all(each, call)), None)
        if place is None or call.confidence > _share(kept[place]) * kept[place].confidence:
            kept.append(call)
        else:
            both = min(1.0, kept[place].confidence + call.confidence)
            kept[place] = replace(kept[place], confidence=both)
    return kept


def is_one_or_all(call: Understood, other: Understood) -> bool:
    """Whether two calls differ in nothing but whether one part is meant or all of its kind."""
    return of_one(call.intents) == of_one(other.intents)


def _share(likelier: Understood) -> float:
    work = likelier.intents[0]
    return RIVAL_SHARE_OF_ALL if isinstance(work, Work) and work.every else RIVAL_SHARE
