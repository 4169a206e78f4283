"""Which calls of a session are shown: kept in the address, so that a choice can be kept too."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from urllib.parse import urlencode

from starlette.datastructures import QueryParams

from companion.web.timeline import Turn

MOST_TEXT = 200
"""Characters of a text looked for; more is no search."""

KINDS: dict[str, tuple[str, Callable[[Turn], bool]]] = {
    "asked": ("asked about", lambda turn: _outcome(turn) == "ask"),
    "again": ("said again", lambda turn: _outcome(turn) == "say-again"),
    "corrected": ("corrected or set aside", lambda turn: turn.changed or _corrected(turn)),
    "doubtful": ("doubtful", lambda turn: turn.doubtful or turn.draft),
    "ignored": ("ignored", lambda turn: _outcome(turn) == "ignore"),
    "open": ("not looked over", lambda turn: turn.heard is not None and not turn.looked),
    "photos": ("with photos", lambda turn: bool(turn.photos)),
}
"""By name in the address, the words of a choice and which calls it shows."""


@dataclass(frozen=True, slots=True)
class Choice:
    """Which calls are shown.

    Attributes:
        kinds: Names in ``KINDS``: those of any of them are shown; all where there is none.
        family: Only calls of this family; all if empty.
        step: Only calls at this step of the card; all if empty.
        text: Only what has all these words somewhere.
    """

    kinds: tuple[str, ...] = ()
    family: str = ""
    step: str = ""
    text: str = ""

    @property
    def any(self) -> bool:
        """Whether something is chosen."""
        return self != Choice()

    def shows(self, turn: Turn) -> bool:
        """Whether a call is among those chosen."""
        if self.kinds and not any(KINDS[kind][1](turn) for kind in self.kinds):
            return False
        if self.family and turn.family != self.family:
            return False
        if self.step and turn.step != self.step:
            return False
        if not self.text:
            return True
        words = turn.words
        return all(word in words for word in self.text.casefold().split())

    @property
    def query(self) -> str:
        """The choice as the part of an address after ``?``; empty where nothing is chosen."""
        pairs = [("only", kind) for kind in self.kinds]
        named = (("family", self.family), ("step", self.step), ("q", self.text))
        return urlencode([*pairs, *((name, value) for name, value in named if value)])


def choice_of(query: QueryParams) -> Choice:
    """Return the choice that an address holds; what it does not know is passed over."""
    kinds = dict.fromkeys(kind for kind in query.getlist("only") if kind in KINDS)
    return Choice(
        kinds=tuple(kinds),
        family=query.get("family", "")[:MOST_TEXT],
        step=query.get("step", "")[:MOST_TEXT],
        text=" ".join(query.get("q", "")[:MOST_TEXT].split()),
    )


def _outcome(turn: Turn) -> str:
    return turn.heard.outcome if turn.heard is not None else ""


def _corrected(turn: Turn) -> bool:
    return turn.judged.startswith(("corrected", "set aside"))
