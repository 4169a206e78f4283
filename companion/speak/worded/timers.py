"""Timers, of this session and of others."""

from __future__ import annotations

from collections.abc import Sequence

from companion.job import events as ev
from companion.job.events import AnyEvent
from companion.job.lines import named
from companion.job.state import State
from companion.speak.numbers import duration_words, read_back_duration
from companion.speak.phrases import CONSEQUENCE, FACT, RINGING, Phrase, recorded
from companion.speak.speakable import sentence
from companion.speak.worded.words import Table, Words


def _started_logged(event: ev.TimerStarted) -> str:
    return f"{event.name} timer: {event.seconds:g} s, due {event.due:%Y-%m-%d %H:%M:%S}"


def _started_reviewed(event: ev.TimerStarted) -> str:
    return f"{event.name} timer: {_as_written(round(event.seconds))}, until {event.due:%H:%M}"


def _as_written(seconds: int) -> str:
    """A length of time as one would write it: 2 h 30 min."""
    hours, minutes, rest = seconds // 3600, seconds // 60 % 60, seconds % 60
    parts = ((hours, "h"), (minutes, "min"), (rest, "s"))
    return " ".join(f"{count} {unit}" for count, unit in parts if count) or "0 s"


def _started_recalled(event: ev.TimerStarted) -> str:
    return f"{named(event.name)}, {read_back_duration(event.seconds)}"


def _started_said(
    state: State, event: ev.TimerStarted, events: Sequence[AnyEvent]
) -> tuple[Phrase, ...]:
    again = any(
        isinstance(other, ev.TimerCancelled) and other.replaced and other.name == event.name
        for other in events
    )
    started = "started again" if again else "started"
    place = FACT if event.by == "voice" else CONSEQUENCE
    length = read_back_duration(event.seconds)
    if event.by == "step" and not again:
        return (recorded(f"{named(event.name)}, {duration_words(event.seconds)}", place),)
    text = f"{named(event.name)}, {'the usual ' if event.usual else ''}{length}, {started}"
    return (recorded(text, place),)


def _times(count: int) -> str:
    return f" ({count} times)" if count > 1 else ""


def _rang_said(state: State, event: ev.TimerRang, events: Sequence[AnyEvent]) -> tuple[Phrase, ...]:
    still = "rings" if event.count == 1 else "still rings"
    return (Phrase(RINGING, "ring", sentence(f"{named(event.name)} {still}")),)


def _off_said(
    state: State, event: ev.TimerAcknowledged, events: Sequence[AnyEvent]
) -> tuple[Phrase, ...]:
    return (recorded(f"{named(event.name)} off"),)


def _cancelled_recalled(event: ev.TimerCancelled) -> str:
    return f"{named(event.name)} cancelled"


def _cancelled_said(
    state: State, event: ev.TimerCancelled, events: Sequence[AnyEvent]
) -> tuple[Phrase, ...]:
    return () if event.replaced else (recorded(_cancelled_recalled(event)),)


def _elsewhere_rang_said(
    state: State, event: ev.ElsewhereRang, events: Sequence[AnyEvent]
) -> tuple[Phrase, ...]:
    still = "" if event.count == 1 else " still rings"
    return (Phrase(RINGING, "ring", sentence(f"{event.machine}: {named(event.name)}{still}")),)


def _elsewhere_off_logged(event: ev.ElsewhereAcknowledged) -> str:
    kept = "" if event.kept else "; not in its own log, which could not be written"
    return f"{event.name} timer of {event.session} acknowledged{kept}"


def _elsewhere_off_said(
    state: State, event: ev.ElsewhereAcknowledged, events: Sequence[AnyEvent]
) -> tuple[Phrase, ...]:
    text = f"{event.machine}: {named(event.name)} off"
    only = "" if event.kept else " here only, that job's own log could not be written"
    return (recorded(f"{text}{only}"),)


TIMERS: Table = {
    ev.TimerStarted: Words(
        _started_logged, _started_said, _started_recalled, reviewed=_started_reviewed
    ),
    ev.TimerRang: Words(lambda event: f"{event.name} timer rang{_times(event.count)}", _rang_said),
    ev.TimerAcknowledged: Words(lambda event: f"{event.name} timer acknowledged", _off_said),
    ev.TimerCancelled: Words(
        lambda event: f"{event.name} timer cancelled", _cancelled_said, _cancelled_recalled
    ),
    ev.ElsewhereRang: Words(
        lambda event: f"{event.name} timer of {event.session} rang{_times(event.count)}",
        _elsewhere_rang_said,
    ),
    ev.ElsewhereAcknowledged: Words(_elsewhere_off_logged, _elsewhere_off_said),
}
"""The words for timers."""
