"""Short words that decide much with little sound: what each means, in which situation, and why.

"Off", "out", "no", "done", "back" and "right" are a syllable each, and a syllable is soon lost over
an engine. So each has one meaning in each situation. All of it is common practice of the trade.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

Situation = Literal["after a part", "after a volume", "alone", "before a figure", "before a part"]


@dataclass(frozen=True, slots=True)
class ShortWord:
    """One meaning of one short word.

    Attributes:
        words: What is said.
        situation: Where in a call.
        means: In the plain form; X stands for the part.
        why: Why this and nothing else.
    """

    words: tuple[str, ...]
    situation: Situation
    means: str
    why: str


SHORT_WORDS = (
    ShortWord(
        ("off", "out"), "after a part", "disconnected X",
        "of a wire, cable, line, hose or battery: it is taken off at one end and stays there",
    ),
    ShortWord(
        ("off",), "after a part", "closed X",
        "of a valve that is worked by hand: nobody takes it from the machine",
    ),
    ShortWord(
        ("off", "out"), "after a part", "removed X",
        "of every other part. All three hold the start until the part is called back: taken for"
        " another, none of them lets anything turn",
    ),
    ShortWord(
        ("on", "in", "back on", "back in", "back"), "after a part", "hooked up X",
        "of what 'off' disconnects",
    ),
    ShortWord(("on",), "after a part", "opened X", "of what 'off' closes"),
    ShortWord(
        ("on", "in", "back on", "back in", "back"), "after a part", "installed X",
        "of every other part; it takes no tag down: that has its own call and its 'affirm'",
    ),
    ShortWord(
        ("off",), "after a part", "removed X or tag X off, asked about",
        "where a tag has that very name: the question names both",
    ),
    ShortWord(("in",), "after a volume", "added", "what goes in is added"),
    ShortWord(("out",), "after a volume", "drained", "what comes out is drained"),
    ShortWord(
        ("off", "out", "in", "on"), "alone", "nothing",
        "alone it says of nothing what became of it",
    ),
    ShortWord(
        ("done", "finished"), "alone", "step done",
        "a card is worked step by step; a job is closed by its own call, with its question",
    ),
    ShortWord(("next",), "alone", "next step", "what comes next is a step; it marks nothing done"),
    ShortWord(("back",), "alone", "step back", "the opposite of next"),
    ShortWord(
        ("right",), "alone", "affirm",
        "alone it only answers, and only while a question is open",
    ),
    ShortWord(("right", "left"), "before a part", "its side", "one of two alike"),
    ShortWord(
        ("no", "nope"), "alone", "negative",
        "alone it only answers, and only while a question is open",
    ),
    ShortWord(
        ("no",), "before a figure", "correction",
        "of what was asked about while a question is open, else of what was recorded last",
    ),
    ShortWord(
        ("again",), "alone", "say again", "it asks to hear, and changes nothing",
    ),
    ShortWord(
        ("running",), "alone", "engine running",
        "nothing else is called running with nothing named; it holds, and lets nothing go",
    ),
    ShortWord(
        ("wait",), "alone", "stand by", "before a figure it is a correction",
    ),
)  # fmt: skip
"""Every short word. In open mic each needs the call sign before it, answers too: a customer who
says "right" beside the bench answers no question."""

_ANSWERS = frozenset(
    {"yes", "yep", "yeah", "yup", "right", "correct", "no", "nope", "nah", "wrong", "incorrect"}
)

NEEDING_THE_CALL_SIGN = _ANSWERS | {
    word for row in SHORT_WORDS if row.situation == "alone" for word in row.words
}
"""Single words that count for nothing in open mic without the call sign before them; "affirm" and
"negative", which nobody says by the way, answer without."""


def needs_call_sign(words: Sequence[str]) -> bool:
    """Return whether a call is one of the short words that need the call sign in open mic."""
    return len(words) == 1 and words[0] in NEEDING_THE_CALL_SIGN


def answers_alone(words: Sequence[str]) -> bool:
    """Return whether a call is a short word that answers a question."""
    return len(words) == 1 and words[0] in _ANSWERS


@dataclass(frozen=True, slots=True)
class SaidOtherwise:
    """A word that means something else of some parts, and so nothing of them.

    Attributes:
        word: In the call.
        unless: What makes it plain all the same, where that is said besides.
        parts: As they are recorded, or how their names end.
        why: What it means of them.
    """

    word: str
    unless: frozenset[str]
    parts: tuple[str, ...]
    why: str


_MOVED = frozenset({"new", "put", "took", "taken", "back", "got"})
"""Words with which it is plain that the part itself was moved."""

SAID_OTHERWISE = (
    SaidOtherwise(
        "pulled", frozenset({"off"}),
        ("recoil", "recoil rope", "choke", "throttle cable", "choke cable"),
        "it is how they are worked: whoever pulled the choke took nothing off",
    ),
    SaidOtherwise(
        "off", _MOVED, ("choke",), "to some it is open, to others shut",
    ),
    SaidOtherwise(
        "on", _MOVED, ("choke",), "to some it is shut, to others open",
    ),
    SaidOtherwise(
        "blocked", frozenset(), ("wheel", "tire"), "it is kept from rolling; a hose is plugged",
    ),
    SaidOtherwise(
        "blew", frozenset(), ("gasket", "tire", "seal", "muffler"),
        "it gave way; a filter is blown clean",
    ),
)  # fmt: skip
"""Verbs and conditions that say something else of some parts; common practice of the trade."""


def said_otherwise(words: Sequence[str], part: str) -> str | None:
    """Return the word of a call that means another thing of this part than what it stands for."""
    return next(
        (
            row.word
            for row in SAID_OTHERWISE
            if row.word in words
            and not row.unless.intersection(words)
            and any(part == name or part.endswith(f" {name}") for name in row.parts)
        ),
        None,
    )


_TAKEN_OFF_AT_AN_END = frozenset({"wire", "cable", "line", "hose", "battery", "lead", "cables"})
_BY_HAND = frozenset({"fuel valve", "fuel tap", "water valve"})


def off(part: str) -> str:
    """Return what "off" or "out" after this part says was done to it."""
    if part.split()[-1] in _TAKEN_OFF_AT_AN_END:
        return "disconnected"
    return "closed" if part in _BY_HAND else "removed"


def on(part: str) -> str:
    """Return what "on", "in" or "back" after this part says was done to it."""
    return {"disconnected": "connected", "closed": "opened", "removed": "installed"}[off(part)]
