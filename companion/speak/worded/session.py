"""A session begins, is put aside and ends; what is heard, said and asked in it."""

from __future__ import annotations

from collections.abc import Sequence

from companion.job import events as ev
from companion.job.events import AnyEvent
from companion.job.state import State
from companion.speak.aloud import aloud
from companion.speak.phrases import CONSEQUENCE, WARNING, Phrase, recorded
from companion.speak.questions import answered_phrases, question_phrase
from companion.speak.speakable import sentence
from companion.speak.worded.recalled import RECORDED
from companion.speak.worded.words import Table, Words, always, logged


def _opened(event: ev.SessionOpened) -> str:
    machine = (event.machine or {}).get("name") or "no spec sheet"
    card = (event.card or {}).get("title") or "no job card"
    return f"session opened: {machine}; {card}; {event.ounce} ounces"


def _closed(event: ev.JobClosed) -> str:
    return "job closed" + (f"; on with {event.instead}" if event.instead else "")


def _resumed_said(
    state: State, event: ev.Resumed, events: Sequence[AnyEvent]
) -> tuple[Phrase, ...]:
    return (recorded("Listening", CONSEQUENCE),)


def _trouble_said(
    state: State, event: ev.Trouble, events: Sequence[AnyEvent]
) -> tuple[Phrase, ...]:
    return (Phrase(WARNING, "warning", sentence(aloud(event.what))),)


def _known(event: ev.MachineKnown) -> str:
    facts = [
        f"{logged(RECORDED[type(each.event)].logged, each.event)} ({each.session})"
        for each in event.facts
    ]
    unread = [f"cannot be read: {name}" for name in event.unread]
    jobs = [f"{'parked' if job.parked else 'open'}: {job.session}" for job in event.jobs]
    open_ = [f"to come back to: {each.part} ({each.session})" for each in event.open]
    said = "; ".join((*facts, *unread, *jobs, *open_)) or "nothing stands open"
    return f"this machine in its other sessions: {said}"


def _heard(event: ev.Heard) -> str:
    reasons = f" ({'; '.join(event.reasons)})" if event.reasons else ""
    sure = "" if event.engine == "typed" else f", confidence {event.confidence:.2f}"
    clip = f" [{event.clip}]" if event.clip else ""
    return f"heard “{event.text}”{sure}: {event.outcome}{reasons}{clip}"


def _said(event: ev.Said) -> str:
    source = f" (source: {event.source})" if event.source else ""
    return f"said “{event.text}”{source}"


def _asked(event: ev.Asked) -> str:
    what = f" {event.tag}" if event.tag else ""
    what = f" {event.own} for {event.plain}" if event.own else what
    return f"asked: {event.about}{what}"


def _asked_said(state: State, event: ev.Asked, events: Sequence[AnyEvent]) -> tuple[Phrase, ...]:
    return (question_phrase(state, event),)


SESSION: Table = {
    ev.SessionOpened: Words(_opened),
    ev.SessionResumed: Words(lambda event: "session resumed"),
    ev.JobParked: Words(lambda event: "job parked", always("Job parked")),
    ev.JobClosed: Words(_closed, always("Job closed")),
    ev.Standby: Words(lambda event: "stand by", always("Standing by")),
    ev.Resumed: Words(lambda event: "listening again", _resumed_said),
    ev.Trouble: Words(
        lambda event: f"trouble: {event.what}", _trouble_said, warns=lambda event: True
    ),
    # What stands is said as an answer.
    ev.MachineKnown: Words(_known),
    ev.Heard: Words(_heard),
    ev.Said: Words(_said),
    ev.Asked: Words(_asked, _asked_said),
    ev.Answered: Words(lambda event: f"answered: {event.answer}", answered_phrases),
}
"""The words for a session and its exchange."""
