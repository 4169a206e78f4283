"""A record that is spoken of later: what "disregard" sets aside, what a page changed."""

from __future__ import annotations

from companion.job import events as ev
from companion.speak.worded.facts import FACTS
from companion.speak.worded.start import START
from companion.speak.worded.timers import TIMERS
from companion.speak.worded.words import Table

RECORDED: Table = {**FACTS, **TIMERS, **START}
"""The words for what a call records and what may be spoken of again."""


def record_words(event: ev.AnyEvent) -> str:
    """Say what a call recorded, without its verdict."""
    row = RECORDED.get(type(event))
    return "the last record" if row is None or row.recalled is None else row.recalled(event)
