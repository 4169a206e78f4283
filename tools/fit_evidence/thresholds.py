"""The thresholds that cost least, where every outcome has its price.

A value recorded wrong in silence costs as much as a thousand needless questions. Another call
recorded wrong costs a hundred: it is read back, and seldom does harm.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from functools import cache
from itertools import product
from typing import Any

from companion.grammar.compiled import CallGrammar, load_grammar
from companion.intent import understood
from companion.intent.decision import decide_utterance
from companion.intent.doubt import ANSWERS, has_number
from companion.intent.intents import Intent, TagClear
from companion.intent.meaning import meanings
from companion.intent.outcome import Decision
from companion.intent.thresholds import DEFAULT, Thresholds
from companion.recognize.protocol import Recognition
from tools.hearing.material import listening_for, meaning_of

WRONG_VALUE = 1000.0
WRONG_CALL = 100.0
QUESTION = 1.0
SAY_AGAIN = 1.5
LOST = 3.0
"""A call that is ignored: it must be said again, and nobody says so."""
GRID: Mapping[str, tuple[float, ...]] = {
    "call": (0.2, 0.3, 0.35, 0.4, 0.5),
    "clear_call": (0.6, 0.7, 0.78, 0.8, 0.85, 0.9, 0.95),
    "clear_number": (0.7, 0.8, 0.85, 0.9, 0.95),
    "record": (0.7, 0.8, 0.85, 0.9, 0.93, 0.95),
    "number": (0.85, 0.9, 0.95, 0.975, 0.985),
    "number_less_sure": (0.85, 0.95, 0.975, 0.985, 0.99),
    "rival_share": (0.03, 0.05, 0.07, 0.1, 0.2),
    "sound_alike_share": (0.003, 0.006, 0.01, 0.015, 0.02, 0.05, 0.1),
}
"""What is tried for each."""
TOGETHER = (
    ("clear_number", "number", "number_less_sure"),
    ("clear_call", "record"),
    ("rival_share", "sound_alike_share"),
    ("call",),
)
"""What is tried together: one of two that both speak against a call changes nothing by itself."""
Judged = tuple[str | None, Recognition]
"""What was called, and what was heard; None where it was talk or noise."""


def cheapest(heard: Sequence[Judged], start: Thresholds = DEFAULT) -> tuple[Thresholds, float]:
    """Find the thresholds with the least cost, changing some at a time until none helps.

    Returns:
        The thresholds, and the cost of all clips together.
    """
    with _meanings_remembered():
        return _cheapest(heard, start)


def _cheapest(heard: Sequence[Judged], start: Thresholds) -> tuple[Thresholds, float]:
    best, least = start, cost_of(heard, start)
    while True:
        before = least
        for names in TOGETHER:
            for values in product(*(GRID[name] for name in names)):
                tried = _with(best, dict(zip(names, values, strict=True)))
                cost = cost_of(heard, tried)
                if cost < least:
                    best, least = tried, cost
        if least == before:
            return best, least


def _with(thresholds: Thresholds, values: Mapping[str, float]) -> Thresholds:
    changed: dict[str, Any] = {**values}
    return replace(thresholds, **changed)


@contextmanager
def _meanings_remembered() -> Iterator[None]:
    """The same sentences are understood anew for every value tried: remember what they mean."""
    known = cache(meanings)
    understood.meanings = lambda words, *rest: known(tuple(words), *rest)  # type: ignore[attr-defined]
    try:
        yield
    finally:
        understood.meanings = meanings  # type: ignore[attr-defined]


def cost_of(heard: Sequence[Judged], thresholds: Thresholds) -> float:
    """What the outcomes of all clips cost together."""
    total = 0.0
    for said, recognition in heard:
        listening = listening_for(said or "")
        decision = decide_utterance(recognition, load(), listening, thresholds)
        total += _cost(decision, _meant(said) if said is not None else None)
    return total


def _cost(decision: Decision, meant: Intent | None) -> float:
    match decision.outcome:
        case "record":
            return 0.0 if decision.intents[0] == meant else _cost_of_wrong(decision.intents[0])
        case "ask":
            return QUESTION if meant in decision.intents else SAY_AGAIN
        case "say-again":
            return SAY_AGAIN if meant is not None else QUESTION
        case "ignore":
            return LOST if meant is not None else 0.0


def _cost_of_wrong(recorded: Intent) -> float:
    grave = has_number(recorded) or isinstance(recorded, TagClear) or recorded.intent in ANSWERS
    return WRONG_VALUE if grave else WRONG_CALL


@cache
def load() -> CallGrammar:
    """The grammar, once."""
    return load_grammar()


@cache
def _meant(said: str) -> Intent:
    return meaning_of(said, load())
