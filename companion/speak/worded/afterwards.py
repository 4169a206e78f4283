"""What comes beside the calls or after them: photos, a work order, what no longer counts, a review,
a signature."""

from __future__ import annotations

from collections.abc import Sequence

from companion.job import events as ev
from companion.job.events import AnyEvent
from companion.job.state import State
from companion.speak.phrases import FACT, Phrase, recorded
from companion.speak.questions import fact_of
from companion.speak.review_words import reviewed_phrases
from companion.speak.speakable import sentence
from companion.speak.worded.recalled import record_words
from companion.speak.worded.words import Table, Words


def _photo(event: ev.PhotoAdded) -> str:
    step = f" at step {event.step}" if event.step else ""
    return f"photo{step}{f' by {event.by}' if event.by else ''} [{event.file}]"


def _work_order(event: ev.WorkOrderKept) -> str:
    told = (("customer", event.customer), ("work order", event.number))
    lines = [f"{name}: {text or 'none'}" for name, text in told if text is not None]
    return "; ".join(lines) or "work order"


def _disregarded_logged(event: ev.Disregarded) -> str:
    restored = f"; {event.restores} counts again" if event.restores is not None else ""
    return f"disregarded: record {event.record}{restored}"


def _disregarded_reviewed(event: ev.Disregarded) -> str:
    restored = f"; № {event.restores} counts again" if event.restores is not None else ""
    return f"set aside: № {event.record}{restored}"


def _disregarded_said(
    state: State, event: ev.Disregarded, events: Sequence[AnyEvent]
) -> tuple[Phrase, ...]:
    fact = fact_of(state, event.record)
    text = f"Disregarded: {record_words(fact.event)}" if fact is not None else "Disregarded"
    said = sentence(text)
    restored = None if event.restores is None else fact_of(state, event.restores)
    if restored is not None:
        said = f"{said} {sentence(f'This counts again: {record_words(restored.event)}')}"
    return (Phrase(FACT, "recorded", said),)


def _reviewed_logged(event: ev.Reviewed) -> str:
    said = f": “{event.said}”" if event.said is not None else ""
    why = f" ({event.why})" if event.why else ""
    return f"{event.by} on record {event.record}: {event.judgement}{said}{why}"


def _signed_off_said(
    state: State, event: ev.SignedOff, events: Sequence[AnyEvent]
) -> tuple[Phrase, ...]:
    return (recorded(f"Signed off by {event.by}"),)


AFTERWARDS: Table = {
    # Nobody calls a photo or a work order, and nobody waits for an answer.
    ev.PhotoAdded: Words(_photo),
    ev.WorkOrderKept: Words(_work_order),
    ev.Disregarded: Words(_disregarded_logged, _disregarded_said, reviewed=_disregarded_reviewed),
    ev.Reviewed: Words(_reviewed_logged, reviewed_phrases),
    ev.SignedOff: Words(lambda event: f"signed off by {event.by}", _signed_off_said),
}
"""The words for what comes beside the calls or after them."""
