"""A job at the bench for tests: calls go in, records come out, as a session would do it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any, TypeVar

from companion.handbook.units import to_si
from companion.intent import intents as it
from companion.job import decide as job
from companion.job import events as ev
from companion.job.answers import Answer
from companion.job.folding.evolve import evolve
from companion.job.record import Record
from companion.job.state import State
from companion.shelf.rules import shipped_rules
from companion.speak.questions import question_phrase
from companion.speak.reason_words import reason_lines, reasons_words
from companion.speak.wording import word

MONDAY = datetime(2024, 3, 4, 9, 0, tzinfo=UTC)
"""When every job of the tests is opened."""

# An invented machine and an invented card.
SHEET: dict[str, Any] = {
    "name": "Tumblewick 5 tiller",
    "kind": "garden tiller",
    "invented": True,
    "reading": [
        {"measure": "gap", "unit": "millimeter", "low": "0.7", "high": "0.8"},
        {"measure": "intake clearance", "unit": "thou", "low": "5", "high": "7"},
        {"measure": "compression", "unit": "psi", "low": "90"},
        {"measure": "air temperature", "unit": "celsius", "low": "-10", "high": "40"},
        {"measure": "end play", "unit": "thou"},
    ],
    "fluid": [{"name": "oil", "capacity": "20", "unit": "ounce"}, {"name": "fuel"}],
}
CARD: dict[str, Any] = {
    "name": "tiller-service",
    "title": "Yearly service",
    "invented": True,
    "step": [
        {
            "name": "make-safe",
            "say": "Key out and plug wire off.",
            "cautions": ["A hot muffler burns."],
            "hangs": ["plug wire off"],
        },
        {
            "name": "drain-oil",
            "say": "Drain the oil.",
            "hangs": ["no oil"],
            "wait": {"timer": "settle", "minutes": 10},
        },
        {"name": "grease", "say": "Grease both points.", "points": ["auger shaft", "axle"]},
        {"name": "gap", "say": "Measure the gap.", "expects": ["gap"], "after": ["make-safe"]},
        {
            "name": "close-up",
            "say": "Put everything back.",
            "clears": ["plug wire off", "no oil"],
            "after": ["grease"],
        },
    ],
}

Found = TypeVar("Found", bound=ev.Event)


@dataclass
class Job:
    """A job whose records are kept in a list instead of a log.

    Attributes:
        records: All of them, in order.
        state: Their fold, kept up record by record.
        now: The time, moved by ``wait`` only.
        events: Recorded by the last call.
        answers: Given to the last call.
    """

    sheet: dict[str, Any] | None = None
    card: dict[str, Any] | None = None
    earlier: tuple[ev.EarlierReading, ...] = ()
    serviced_before: tuple[ev.EarlierService, ...] = ()
    records: list[Record] = field(default_factory=list)
    state: State = field(default_factory=lambda: State.start(shipped_rules()))
    now: datetime = MONDAY
    events: tuple[ev.AnyEvent, ...] = ()
    answers: tuple[Answer, ...] = ()

    def __post_init__(self) -> None:
        self.keep(
            ev.SessionOpened(
                session="test",
                machine=self.sheet,
                card=self.card,
                call_sign="bench",
                ounce="us",
                software="test",
                earlier=self.earlier,
                serviced_before=self.serviced_before,
            )
        )

    def keep(self, event: ev.AnyEvent) -> int:
        """Append one record and return its number."""
        record = Record(len(self.records) + 1, self.now, event)
        self.records.append(record)
        self.state = evolve(self.state, record)
        return record.seq

    def call(self, *intents: it.Intent, clip: str | None = None) -> Job:
        """Act on calls that were understood, one after the other."""
        for intent in intents:
            heard = len(self.records) + 1
            response = job.decide(self.state, intent, at=self.now, heard=heard, clip=clip)
            self._after_hearing(intent.intent, response, clip)
        return self

    def doubt(self, *candidates: it.Intent, clip: str | None = None) -> Job:
        """Put a doubtful call."""
        response = job.ask(self.state, candidates, at=self.now, heard=len(self.records) + 1)
        self._after_hearing("doubtful", response, clip)
        return self

    def open(self) -> Job:
        """Start or resume."""
        self._take(job.opening(self.state, at=self.now))
        return self

    def resume(self) -> Job:
        """Start the program again on this log."""
        self.keep(ev.SessionResumed(software="test"))
        return self.open()

    def wait(self, **length: float) -> Job:
        """Let time pass: nothing happens until ``ring`` or the next call."""
        self.now += timedelta(**length)
        return self

    def ring(self) -> Job:
        """Let the clock bring what is due."""
        self._take(job.ring_timers(self.state, self.now))
        return self

    @property
    def tags(self) -> list[str]:
        """The tags that hang."""
        return [tag.tag for tag in self.state.tags]

    @property
    def said(self) -> str:
        """What the last call is answered with, in words."""
        reply = word(self.state, self.events, self.answers)
        return "" if reply is None else reply.whole

    @property
    def question(self) -> str:
        """The open question in words; there must be one."""
        assert self.asked is not None
        return question_phrase(self.state, self.asked).text

    @property
    def against_start(self) -> tuple[str, ...]:
        """What the last "clear to start" said against it, a line for each tag or other reason."""
        return reason_lines(self.last(ev.StartChecked).reasons)

    @property
    def hung_for(self) -> str:
        """Why the last tag was hung, in words."""
        return reasons_words(self.last(ev.TagHung).because)

    @property
    def asked(self) -> ev.Asked | None:
        """The open question."""
        return None if self.state.question is None else self.state.question.event

    def last(self, kind: type[Found]) -> Found:
        """The last record of a kind; there must be one."""
        return self.all(kind)[-1]

    def all(self, kind: type[Found]) -> list[Found]:
        """Every record of a kind."""
        return [record.event for record in self.records if isinstance(record.event, kind)]

    def seq(self, kind: type[ev.Event]) -> int:
        """Number of the last record of a kind."""
        return [record.seq for record in self.records if isinstance(record.event, kind)][-1]

    def _after_hearing(self, text: str, response: job.Response, clip: str | None) -> None:
        self.keep(
            ev.Heard(
                text=text,
                engine="typed" if clip is None else "test",
                confidence=1.0,
                call_confidence=1.0,
                outcome="record",
                clip=clip,
            )
        )
        self._take(response)

    def _take(self, response: job.Response) -> None:
        self.events, self.answers = response.events, response.answers
        for event in response.events:
            self.keep(event)
        if response.events or response.answers:
            self.keep(ev.Said(text=words(response.events, response.answers), tone="recorded"))


def words(events: Sequence[ev.AnyEvent], answers: Sequence[Answer]) -> str:
    """Everything that a response holds, as one text to look for words in."""
    return " ".join(str(thing) for thing in (*events, *answers))


def quantity(value: str, unit: str) -> dict[str, Any]:
    number, si_unit = to_si(Decimal(value), unit)
    return {"value": value, "unit": unit, "si": {"value": float(number), "unit": si_unit}}


def reading(measure: str, value: str, unit: str) -> it.Reading:
    return it.Reading(measure=measure, **quantity(value, unit))


def drained(value: str, unit: str = "ounce", fluid: str | None = "oil") -> it.Fluid:
    return it.Fluid(action="drained", fluid=fluid, **quantity(value, unit))


def added(value: str, unit: str = "ounce", fluid: str | None = "oil") -> it.Fluid:
    return it.Fluid(action="added", fluid=fluid, **quantity(value, unit))


def level(called: str, fluid: str = "oil") -> it.Level:
    return it.Level.model_validate({"fluid": fluid, "level": called})


def correction(value: str, unit: str | None = None) -> it.Correction:
    if unit is None:
        return it.Correction(value=Decimal(value))
    return it.Correction(**quantity(value, unit))


def convert(value: str, unit: str, to: str) -> it.Convert:
    return it.Convert(to=to, **quantity(value, unit))


def mix(ratio: str, value: str, unit: str) -> it.Mix:
    return it.Mix(ratio=Decimal(ratio), **quantity(value, unit))


def timer(name: str, **length: float) -> it.TimerStart:
    return it.TimerStart(name=name, seconds=timedelta(**length).total_seconds())


def step(call: str) -> it.Step | it.StepSkip:
    if call == "skip":
        return it.StepSkip()
    return it.Step.model_validate({"intent": f"step.{call}"})


def skip(reason: str) -> it.StepSkip:
    return it.StepSkip.model_validate({"reason": reason})


def go(name: str) -> it.StepGo:
    return it.StepGo(step=name)


def work(action: str, part: str) -> it.Work:
    return it.Work(action=action, part=part)


def plain(call: str) -> it.Plain:
    return it.Plain.model_validate({"intent": call})


AFFIRM = plain("affirm")
NEGATIVE = plain("negative")
DISREGARD = plain("disregard")
ROGER = it.Acknowledge()
CLEAR_TO_START = it.StartCheck()
RUNNING = plain("engine.running")
STOPPED = plain("engine.stopped")
