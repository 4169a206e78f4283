"""What a second recognizer has to say about the numbers in a call.

It never replaces a call of the first recognizer and never adds one. What it hears besides numbers
does not count, and where it hears nothing, nothing changes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from companion.grammar.compiled import CallGrammar
from companion.intent.doubt import has_number, in_unit_corrected
from companion.intent.intents import Intent
from companion.intent.outcome import Listening
from companion.intent.thresholds import Thresholds
from companion.intent.understood import Understood, exactly
from companion.recognize.protocol import Recognition

_FIGURES = frozenset({"value", "seconds", "count", "size", "ratio", "bore", "stroke", "si", "unit"})
"""Fields that another number changes; the unit among them, since "half a liter" is one."""


@dataclass(frozen=True, slots=True)
class SecondOpinion:
    """What the second recognizer says of the numbers of the best call.

    Attributes:
        agrees: Whether the second recognizer heard the same numbers.
        call: The call as it heard it.
    """

    agrees: bool
    call: Understood


def second_opinion(
    best: Understood,
    second: Recognition | None,
    grammar: CallGrammar,
    listening: Listening,
    thresholds: Thresholds,
) -> SecondOpinion | None:
    """Hold the numbers of a call against what a second recognizer heard.

    Args:
        best: The likeliest meaning by the first one.
        second: What the second made of the same sound, or None.
        grammar: What may be said.
        listening: What the decision needs to know besides.
        thresholds: How sure the second must be to be listened to.

    Returns:
        None where it says nothing of these numbers: it heard nothing, no number, another kind of
        call, or was hardly sure itself.
    """
    if second is None or not second.hypotheses or not any(map(has_number, best.intents)):
        return None
    heard = second.hypotheses[0]
    if heard.confidence < thresholds.second_sure:
        return None
    call = exactly(tuple(heard.text.split()), grammar, listening, heard.confidence)
    if call is None:
        return None
    ours = _meanings(best.intents, listening)
    theirs = _meanings(call.intents, listening)
    if set(ours) & set(theirs):
        return SecondOpinion(True, call)
    alike = any(same_but_for_figures(one, other) for one in ours for other in theirs)
    return SecondOpinion(False, call) if alike else None


def same_but_for_figures(one: Intent, other: Intent) -> bool:
    """Whether two calls differ in nothing but their numbers."""
    if type(one) is not type(other):
        return False
    names = type(one).model_fields.keys() - _FIGURES
    return all(getattr(one, name) == getattr(other, name) for name in names)


def _meanings(intents: Sequence[Intent], listening: Listening) -> tuple[Intent, ...]:
    return tuple(in_unit_corrected(intent, listening) for intent in intents)
