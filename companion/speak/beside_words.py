"""What somebody recorded on a page, in a short sentence for whoever is at the bench."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from companion.job import events as ev
from companion.job.record import Record
from companion.job.state import State
from companion.job.state_values import Fact
from companion.speak.numbers import number_words
from companion.speak.phrases import Phrase, recorded
from companion.speak.worded.facts import verdict_said
from companion.speak.worded.recalled import record_words

NAMED = 2
"""How many changes of a kind are named; of more only their number is said, since the page has
them."""


def beside_phrases(state: State, news: Sequence[Record]) -> tuple[Phrase, ...]:
    """Say what changes what counts; of notes, and of what was only looked at, nothing is said.

    Args:
        state: After the news.
        news: In order.
    """
    said: dict[str, list[str]] = {}
    for record in news:
        change = _change(state, record.event)
        if change is not None:
            kind, what = change
            said.setdefault(kind, []).append(what)
    phrases: list[Phrase] = []
    for kind, changes in said.items():
        # A tag is always named.
        named = changes if kind.startswith("Tag") else changes[:NAMED]
        more = len(changes) - len(named)
        first, *others = [*named, *([f"and {number_words(Decimal(more))} more"] if more else [])]
        page = "" if phrases else " on the page"
        phrases += [recorded(f"{kind}{page}: {first}"), *map(recorded, others)]
    return tuple(phrases)


def _change(state: State, event: ev.AnyEvent) -> tuple[str, str] | None:
    match event:
        case ev.ReadingRecorded():
            judged = verdict_said(event) if event.verdict in ("low", "high") else ()
            words = [record_words(event), *(each.removesuffix(".").lower() for each in judged)]
            return _kind(event), ", ".join(words)
        case (
            ev.FluidMoved()
            | ev.LevelRead()
            | ev.FindingRecorded()
            | ev.WorkRecorded()
            | ev.PartNeeded()
            | ev.PartUsed()
            | ev.FollowUpRecorded()
            | ev.SerialRecorded()
        ):
            return _kind(event), record_words(event)
        case ev.Disregarded():
            fact = _fact(state, event.record)
            return None if fact is None else ("Set aside", record_words(fact))
        case ev.TagHung():
            return "Tag hung", event.tag
        case ev.TagCleared():
            return "Tag cleared", event.tag
    return None


def _fact(state: State, seq: int) -> ev.AnyEvent | None:
    """The fact of this number, whether or not it counts."""
    facts: tuple[Fact[Any], ...] = (
        *state.readings,
        *state.fluids,
        *state.levels,
        *state.findings,
        *state.work,
        *state.parts_needed,
        *state.parts_used,
        *state.follow_ups,
        *state.notes,
        *state.serials,
    )
    return next((fact.event for fact in facts if fact.seq == seq), None)


def _kind(event: ev.AnyEvent) -> str:
    corrects: int | None = getattr(event, "corrects", None)
    return "Added" if corrects is None else "Changed"
