"""The one table of events in words, and what each surface takes from it.

A kind of event has one row, beside those of its theme. Speech takes ``said`` and ``recalled``, the
list of a log and the turns of a report take ``logged``, and a review takes ``reviewed``.
"""

from __future__ import annotations

from collections.abc import Sequence

from companion.job.events import AnyEvent
from companion.job.state import State
from companion.speak.phrases import Phrase
from companion.speak.worded.afterwards import AFTERWARDS
from companion.speak.worded.recalled import RECORDED
from companion.speak.worded.session import SESSION
from companion.speak.worded.steps import STEPS
from companion.speak.worded.words import Table, logged

WORDS: Table = {**SESSION, **RECORDED, **STEPS, **AFTERWARDS}
"""By kind of event, its words on every surface."""


def event_phrases(state: State, event: AnyEvent, events: Sequence[AnyEvent]) -> tuple[Phrase, ...]:
    """Put one recorded event into the words that acknowledge it.

    Args:
        state: After the events; most need it for totals only.
        event: The event.
        events: All that the call brought, this one among them.
    """
    return WORDS[type(event)].said(state, event, events)


def event_line(event: AnyEvent) -> str:
    """Return what happened, in one line of a log or a report."""
    return logged(WORDS[type(event)].logged, event)


def review_line(event: AnyEvent) -> str:
    """Return what happened, in one line of a review."""
    row = WORDS[type(event)]
    return event_line(event) if row.reviewed is None else row.reviewed(event)


def warns(event: AnyEvent) -> bool:
    """Return whether an event stands out as a warning on a page."""
    return WORDS[type(event)].warns(event)
