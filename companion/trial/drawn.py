"""The ten calls of a page: drawn by its number, so that the same page can be said again."""

from __future__ import annotations

from collections.abc import Sequence
from random import Random, SystemRandom

from companion.intent.short_words import needs_call_sign

PAGES = 9_999
"""Pages are numbered from 1 to this."""

NEAR_PAIRS = (
    ("thirteen", "thirty"),
    ("fifteen", "fifty"),
    ("seventeen", "seventy"),
)
"""The numbers that are taken for one another most (``docs/hearing.md``): one of each pair is on
every page."""
_NEAR_IN = (
    ("gap {} thou", "play {} thou"),
    ("torque {} foot pounds", "torque {} inch pounds"),
    ("tire pressure {} p s i", "start timer {} minutes"),
)
_FURTHER = (
    (
        "compression one oh five p s i",
        "compression one twenty p s i",
        "engine speed thirty two hundred",
        "engine speed thirty six hundred",
        "engine speed eighteen hundred",
    ),
    (
        "battery twelve point six volts",
        "battery eleven point nine volts",
        "air temperature minus nine celsius",
        "play three eighths inch",
        "play five sixteenths inch",
    ),
    (
        "added eighteen ounces of oil",
        "added twenty ounces of oil",
        "drained half a quart of oil",
        "drained half a liter of oil",
    ),
    ("tag no oil", "tag no fuel", "clear tag no oil", "clear tag no fuel"),
    (
        "start soak timer two hours",
        "start soak timer ninety minutes",
        "start soak timer forty minutes",
        "start soak timer sixteen minutes",
    ),
)
_ANSWERS = (("affirm", "yes"), ("negative", "no"))

CALLS = len(NEAR_PAIRS) + len(_FURTHER) + len(_ANSWERS)
"""Calls of a page."""


def another_page() -> int:
    """Return the number of any page."""
    return SystemRandom().randint(1, PAGES)


def calls_of(page: int, call_sign: str | None = None) -> tuple[str, ...]:
    """Return the calls of a page, in the words of the grammar; the same for the same number.

    Args:
        page: Its number.
        call_sign: What opens a call in open mic; None where a key is held. The long answers need
            none there, as at the bench.
    """
    # Only random() itself is promised to stay the same in later versions of Python.
    chance = Random(page).random
    pairs = sorted(NEAR_PAIRS, key=lambda _: chance())
    near = [
        _one(chance(), forms).format(_one(chance(), pair))
        for forms, pair in zip(_NEAR_IN, pairs, strict=True)
    ]
    further = [_one(chance(), calls) for calls in (*_FURTHER, *_ANSWERS)]
    drawn = sorted((*near, *further), key=lambda _: chance())
    return tuple(call if alone(call) or not call_sign else f"{call_sign} {call}" for call in drawn)


def alone(call: str) -> bool:
    """Whether a call answers a question and needs no call sign for it."""
    answers = {answer for answers in _ANSWERS for answer in answers}
    return call in answers and not needs_call_sign(call.split())


def every_call() -> tuple[str, ...]:
    """Return every call that may be on a page, without a call sign."""
    near = [
        form.format(number)
        for forms in _NEAR_IN
        for form in forms
        for pair in NEAR_PAIRS
        for number in pair
    ]
    return (*near, *(call for calls in (*_FURTHER, *_ANSWERS) for call in calls))


def _one(chance: float, of: Sequence[str]) -> str:
    return of[int(chance * len(of))]
