"""Each kind of event has one row of words, which speech, logs, reports and reviews share."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal
from typing import get_args

import pytest

from companion.intent.call import SI
from companion.job import events as ev
from companion.job.events import AnyEvent
from companion.speak.worded.recalled import record_words
from companion.speak.worded.table import WORDS, event_line, review_line, warns

READING = ev.ReadingRecorded(
    measure="gap",
    value=Decimal(30),
    unit="thou",
    si=SI(value=Decimal("0.000762"), unit="m"),
    verdict="unknown",
)
TIMER = ev.TimerStarted(name="soak", seconds=5400.0, due=datetime(2026, 3, 2, 10, 30, tzinfo=UTC))


def test_every_kind_of_event_has_a_row() -> None:
    union, _ = get_args(AnyEvent)
    assert set(WORDS) == set(get_args(union))


@pytest.mark.parametrize(
    ("event", "logged", "reviewed", "recalled"),
    [
        (
            READING,
            "gap 30 thou: no figure to judge by",
            "gap 30 thou: no figure to judge by",
            "gap, thirty, three zero, thou",
        ),
        (
            TIMER,
            "soak timer: 5400 s, due 2026-03-02 10:30:00",
            "soak timer: 1 h 30 min, until 10:30",
            "soak timer, one hour thirty, three zero, minutes",
        ),
        (
            ev.NoteKept(text="smells of fuel", draft=True, clip="clips/4.flac"),
            "note (draft): smells of fuel [clips/4.flac]",
            "note: smells of fuel",
            "the note",
        ),
        (
            ev.Disregarded(record=7, restores=5),
            "disregarded: record 7; 5 counts again",
            "set aside: № 7; № 5 counts again",
            "the last record",
        ),
        (
            ev.StepDone(step="drain-oil"),
            "step done: drain-oil",
            "step done: drain oil",
            "the last record",
        ),
    ],
)
def test_one_row_serves_each_surface(
    event: AnyEvent, logged: str, reviewed: str, recalled: str
) -> None:
    assert event_line(event) == logged
    assert review_line(event) == reviewed
    assert record_words(event) == recalled


def test_trouble_and_a_start_against_a_tag_stand_out_on_every_page() -> None:
    assert warns(ev.Trouble(what="The microphone is gone."))
    assert warns(ev.EngineRunning(against=("no oil",)))
    assert not warns(ev.EngineRunning())
    assert not warns(READING)


def test_what_a_record_corrects_is_told_in_a_log() -> None:
    assert event_line(READING.model_copy(update={"corrects": 4})).endswith("; corrects 4")
