"""Logs for tests: a whole invented job, call by call, and any event at all."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal
from pathlib import Path
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

import numpy as np
from hypothesis import strategies as st
from numpy.typing import NDArray
from pydantic import BaseModel

from companion.files.sound_format import SAMPLE_RATE
from companion.handbook.units import to_si
from companion.intent.intents import SI
from companion.job import events as ev
from companion.log.clips import keep_clip
from companion.log.writer import LogWriter

MONDAY = datetime(2026, 3, 2, 9, 15, 0, tzinfo=timezone(timedelta(hours=1)))
"""When the invented job begins."""

MACHINE: dict[str, Any] = {
    "name": "Quillmoor tiller",
    "kind": "garden tiller",
    "invented": True,
    "reading": [
        {"measure": "gap", "unit": "thou", "low": "28", "high": "31", "source": "invented sheet"},
        {"measure": "compression", "unit": "psi", "low": "90", "source": "invented sheet"},
    ],
    "fluid": [{"name": "oil", "capacity": "20", "unit": "ounce", "grade": "SAE 30"}],
}
CARD: dict[str, Any] = {
    "name": "spring-service",
    "title": "Spring service",
    "invented": True,
    "step": [
        {"name": "make-safe", "say": "Take the plug wire off.", "hangs": ["plug wire off"]},
        {"name": "drain-oil", "say": "Drain the oil while warm."},
        {"name": "set-gap", "say": "Set the plug gap.", "expects": ["gap"]},
        {"name": "fill-oil", "say": "Fill with fresh oil.", "points": ["drain plug"]},
        {"name": "test-run", "say": "Run the engine outdoors."},
    ],
}


def tone(seconds: float = 0.4, pitch: float = 440.0) -> NDArray[np.float32]:
    """A sound of that many seconds; shape (n,), at 16 kHz."""
    time = np.arange(round(seconds * SAMPLE_RATE)) / SAMPLE_RATE
    return (0.3 * np.sin(2 * np.pi * pitch * time)).astype(np.float32)


def si(value: str, unit: str) -> SI:
    number, symbol = to_si(Decimal(value), unit)
    return SI(value=float(number), unit=symbol)


def reading(measure: str, value: str, unit: str, **more: Any) -> ev.ReadingRecorded:
    return ev.ReadingRecorded(
        measure=measure, value=Decimal(value), unit=unit, si=si(value, unit), **more
    )


def fluid(action: Literal["added", "drained"], value: str, unit: str, **more: Any) -> ev.FluidMoved:
    return ev.FluidMoved(
        action=action, fluid="oil", value=Decimal(value), unit=unit, si=si(value, unit), **more
    )


GAP = ev.Window(low=Decimal(28), high=Decimal(31), unit="thou", source="invented sheet")
COMPRESSION = ev.Window(low=Decimal(90), unit="psi", source="invented sheet")


class Bench:
    """Writes a log as a session would: what was heard, what it caused, what was said."""

    def __init__(self, folder: Path, *, start: datetime = MONDAY, clips: bool = True) -> None:
        self.folder = folder
        self.now = start
        self.clips = clips
        self.writer = LogWriter.create(folder)

    def open(self, machine: dict[str, Any] | None = MACHINE, card: Any = CARD) -> None:
        self.happen(
            ev.SessionOpened(
                session=self.folder.name,
                machine=machine,
                card=card,
                call_sign="bench",
                ounce="us",
                software="0.1.0",
            )
        )

    def wait(self, **time: float) -> None:
        self.now += timedelta(**time)

    def happen(self, *events: ev.AnyEvent) -> int:
        """Record what no call brought; the number of the first record."""
        return self.writer.append(events, self.now)[0].seq

    def call(
        self,
        text: str,
        *events: ev.AnyEvent,
        said: str = "",
        sound: NDArray[np.float32] | None = None,
        **heard: Any,
    ) -> int:
        """Record a call and what it caused; the number of the record of what was heard."""
        self.wait(seconds=20)
        number = self.writer.next_seq
        clip = None
        if self.clips:
            clip = keep_clip(self.folder, number, tone() if sound is None else sound)
        details: dict[str, Any] = {
            "engine": "whisper tiny.en",
            "confidence": 0.97,
            "call_confidence": 0.99,
            "outcome": "record",
            "decode_seconds": 0.11,
        }
        if clip is not None:
            details |= {"clip": clip.path, "clip_sha256": clip.sha256}
        first = ev.Heard(text=text, **{**details, **heard})
        caused = [event.model_copy(update={"heard": number}) for event in events]
        tone_kind = "recorded" if first.outcome == "record" else "question"
        reply = [ev.Said(text=said, tone=tone_kind, heard=number)] if said else []
        self.writer.append([first, *caused, *reply], self.now)
        return number


def invented_job(folder: Path, *, clips: bool = True) -> None:
    """A tiller serviced over two days, with something of everything that can happen; left open."""
    bench = Bench(folder, clips=clips)
    bench.open()
    bench.happen(
        ev.StepEntered(step="make-safe", by="opening"),
        ev.TagHung(tag="plug wire off", by="step", reason="step make-safe"),
        ev.CautionSpoken(caution="plug-wire", text="Plug wire off before hands go near the tines."),
    )
    bench.call(
        "step done",
        ev.StepDone(step="make-safe"),
        ev.StepEntered(step="drain-oil", by="done"),
        said="Drain the oil while warm.",
    )
    bench.call("engine stopped", ev.EngineStopped(), said="Engine stopped.")
    bench.call(
        "drained eighteen ounces of oil",
        ev.TagHung(tag="no oil", by="implied", reason="oil was drained"),
        fluid("drained", "18", "ounce"),
        said="Drained eighteen, one eight, ounces of oil. Tag hung: no oil.",
    )
    bench.call("next step", ev.StepSkipped(step="drain-oil"), ev.StepEntered(step="set-gap"))
    first = bench.writer.next_seq + 1
    bench.call(
        "gap thirty thou",
        reading("gap", "30", "thou", verdict="in", window=GAP),
        said="Gap thirty, three zero, thou, in.",
        confidence=0.81,
        rivals=(
            ev.Rival(text="gap thirteen thou", confidence=0.11),
            ev.Rival(text="gap forty thou", confidence=0.02),
        ),
        reasons=("in the spec window",),
    )
    bench.call(
        "correction thirty one thou",
        reading("gap", "31", "thou", verdict="in", window=GAP, corrects=first),
        said="Corrected: gap thirty one thou, in.",
    )
    bench.call(
        "compression seventy five p s i",
        reading(
            "compression",
            "75",
            "psi",
            verdict="low",
            window=COMPRESSION,
            beyond=Decimal(15),
        ),
        said="Compression seventy five p s i, low by fifteen.",
    )
    disregarded = bench.writer.next_seq + 1
    bench.call("shear pin broken", ev.FindingRecorded(part="shear pin", condition="broken"))
    bench.call("disregard", ev.Disregarded(record=disregarded), said="Disregarded.")
    bench.call("drive belt worn", ev.FindingRecorded(part="drive belt", condition="worn"))
    bench.call("tightened handle bolt", ev.WorkRecorded(action="tightened", part="handle bolt"))
    bench.call("need two shear pins", ev.PartNeeded(part="shear pin", count=2))
    bench.call("need a drive belt", ev.PartNeeded(part="drive belt", count=1))
    bench.call("used one spark plug", ev.PartUsed(part="spark plug", count=1))
    bench.call("follow up carburetor", ev.FollowUpRecorded(part="carburetor"))
    bench.call(
        "note",
        ev.NoteKept(text="the cable is frayed at the lever", draft=True),
        draft="note the cable is frayed at the lever",
    )
    bench.call(
        "start soak timer two hours",
        ev.TimerStarted(name="soak", seconds=7200, due=bench.now + timedelta(hours=2)),
        said="Soak timer, two hours.",
    )
    bench.call(
        "", outcome="say-again", reasons=("low confidence",), confidence=0.2, said="Say again."
    )
    bench.call(
        "gap fifty thou",
        ev.Asked(about="doubt", meaning="far from the spec"),
        outcome="ask",
        reasons=("close rival: fifteen", "beyond the spec window"),
        said="Gap fifty, five zero, thou?",
    )
    bench.call("negative", ev.Answered(answer="negative"), said="Not recorded.")
    bench.call("park job", ev.JobParked(), said="Parked. Tags hang: plug wire off, no oil.")
    bench.wait(hours=2)
    bench.happen(ev.TimerRang(name="soak", count=1), ev.Said(text="Soak timer.", tone="ring"))
    bench.call("roger", ev.TimerAcknowledged(name="soak"))
    bench.wait(days=1)
    bench.happen(ev.SessionResumed(software="0.1.0"))
    bench.happen(ev.Trouble(what="The microphone was lost; typed calls go on."))
    bench.call("step done", ev.StepDone(step="set-gap"), ev.StepEntered(step="fill-oil", by="done"))
    bench.call("added half a liter of oil", fluid("added", "0.5", "liter"))
    bench.call("added one more ounce", fluid("added", "1", "ounce"))
    bench.call("oil level full", ev.LevelRead(fluid="oil", level="full"))
    bench.call("affirm", ev.Answered(answer="affirm"), ev.TagCleared(tag="no oil"))
    bench.call(
        "clear to start",
        ev.StartChecked(
            standing=("plug wire off",), reasons=("plug wire off hangs",), not_checked=("fuel",)
        ),
        said="Not clear. Plug wire off hangs.",
    )
    bench.writer.close()


def any_event() -> st.SearchStrategy[ev.AnyEvent]:
    """Every kind of event, with any field at any value that its model allows."""
    union = get_args(ev.AnyEvent)[0]
    return st.one_of([_model(kind) for kind in get_args(union)])


def any_time() -> st.SearchStrategy[datetime]:
    """Any time of the centuries in question, with any offset that clocks have."""
    minutes = st.integers(-12 * 60, 14 * 60).map(lambda m: timezone(timedelta(minutes=m)))
    return st.datetimes(
        datetime(1970, 1, 1), datetime(2200, 1, 1), timezones=st.one_of(st.just(UTC), minutes)
    )


def _model(kind: type[BaseModel]) -> st.SearchStrategy[Any]:
    fields = {name: _value(field.rebuild_annotation()) for name, field in kind.model_fields.items()}
    return st.fixed_dictionaries(fields).map(lambda values: kind(**values))


TEXT = st.text(st.characters(codec="utf-8"), max_size=40)
DECIMALS = st.decimals(-10_000, 10_000, places=4) | st.integers(-99, 9999).map(Decimal)
JSON_VALUES: st.SearchStrategy[Any] = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53), 2**53) | TEXT,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXT, inner, max_size=3),
    max_leaves=8,
)


def _value(annotation: Any) -> st.SearchStrategy[Any]:
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        value = _value(arguments[0])
        not_empty = any(getattr(each, "min_length", 0) for each in arguments[1:])
        return value.filter(bool) if not_empty else value
    if origin in (Union, UnionType):
        return st.one_of([_value(argument) for argument in arguments])
    if origin is Literal:
        return st.sampled_from(arguments)
    if origin is tuple:
        return st.lists(_value(arguments[0]), max_size=3).map(tuple)
    if origin is dict:
        return st.dictionaries(TEXT, JSON_VALUES, max_size=3)
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return st.deferred(lambda: _model(annotation))
    simple: dict[Any, st.SearchStrategy[Any]] = {
        NoneType: st.none(),
        str: TEXT,
        int: st.integers(-(2**53), 2**53),
        bool: st.booleans(),
        float: st.floats(allow_nan=False, allow_infinity=False),
        Decimal: DECIMALS,
        datetime: any_time(),
    }
    return simple[annotation]


def events_of(records: Sequence[Any]) -> list[ev.AnyEvent]:
    return [record.event for record in records]
