"""A row of the table of events: what one kind of event is called on each surface."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from companion.job import events as ev
from companion.job.events import AnyEvent
from companion.job.state import State
from companion.speak.phrases import Phrase, recorded

Said = Callable[[State, Any, Sequence[AnyEvent]], tuple[Phrase, ...]]
"""Gives what is said of an event: from the state after it, the event, and all that the call
brought."""


def nothing(state: State, event: AnyEvent, events: Sequence[AnyEvent]) -> tuple[Phrase, ...]:
    """What is said of an event of which nothing is said.

    Args:
        state: After the event.
        event: The event.
        events: All that the call brought.
    """
    return ()


def always(text: str) -> Said:
    """Say the same of every event of a kind: that it is recorded."""
    return lambda state, event, events: (recorded(text),)


@dataclass(frozen=True, slots=True)
class Words:
    """The words for one kind of event.

    Attributes:
        logged: The line of a log, also in the turns of a report and of a review.
        said: The sentences that acknowledge it at the bench.
        recalled: How it is named when it is spoken of later, as in "Disregarded: …"; None for a
            kind that is never spoken of so.
        reviewed: The line of a review, where whoever looks at one wants it told otherwise than in
            a log: without file names, with lengths of time in hours and minutes.
        warns: Whether it stands out as a warning on a page.
    """

    logged: Callable[[Any], str]
    said: Said = nothing
    recalled: Callable[[Any], str] | None = None
    reviewed: Callable[[Any], str] | None = None
    warns: Callable[[Any], bool] = lambda event: False


Table = Mapping[type[ev.Event], Words]
"""By kind of event, its words."""


def logged(words: Callable[[Any], str], event: AnyEvent) -> str:
    """Return an event as one line, and what it corrects.

    Args:
        words: Of its kind, for a log.
        event: The event.
    """
    # A line feed from a typed call or a torn clip name must not fake a line of its own.
    line = " ".join(words(event).split())
    corrects = ev.corrected_by(event)
    return line if corrects is None else f"{line}; corrects {corrects}"
