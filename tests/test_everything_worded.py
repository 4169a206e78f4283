"""Whatever is called, wherever the job stands: it is worded, kept, read back and shown on each page.

The kinds of calls, of events and of answers are taken from their unions, and the calls from the
grammar: a new kind fails here until it has its words. Each call is made, doubted, affirmed, denied,
replaced, rung over by a timer, disregarded and corrected, on jobs that stand in different ways; the
logs that come of it are then opened again, listed, and put on every page.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import cycle, islice
from pathlib import Path
from random import Random
from typing import Any, Literal, get_args, get_origin

import pytest
from pydantic import BaseModel

from companion.elsewhere import Elsewhere
from companion.grammar.compiled import CallGrammar
from companion.intent.intents import Intent, Note
from companion.intent.meaning import meanings
from companion.intent.outcome import Decision, Outcome
from companion.job import answers as an
from companion.job import events as ev
from companion.job.answers import Answer
from companion.job.events import AnyEvent
from companion.job.load import load_card, load_sheet, shipped_cards, shipped_sheets
from companion.job.record import Record
from companion.job.state import State, fold
from companion.log.check import check_log
from companion.log.history import history_lines
from companion.log.line import FIRST_PREV, LOG_NAME, digest, encode
from companion.log.reader import read_log
from companion.log.sessions import session_line, summarize
from companion.log.show import log_lines
from companion.report.handover import render_handover
from companion.report.hang_tags import render_tags
from companion.report.page import render_report
from companion.report.parts import FORMS, parts_list
from companion.session import Exchange, Session, open_session, resume_session
from companion.speak.pieces import seconds_to_say
from companion.speak.wording import Reply
from tests.test_speak_length import LONGEST, LONGEST_ASKED
from tests.test_speak_wording import speakable_and_careful

MONDAY = datetime.fromisoformat("2026-03-02T09:15:00+01:00")
"""When every job begins."""
DRAWN = 8000
"""Sentences drawn of a grammar; the rarest call is one in some five hundred."""
ALIKE = 2
"""Sentences taken that begin with the same two words."""
OFTEN, RARELY, ONCE = 2, 8, 17
"""Each shape of call goes through one in so many of the situations."""

FITTING = {
    "blade-service": "tarnfield-mower",
    "generator-load-check": "brackwater-generator",
    "two-stroke-service": "wrenlow-trimmer",
}
"""A sheet that fits a card; the tiller fits every other."""
LISTED = an.ReadBackList | an.TagsHanging | an.TimeLeft | an.StepsLeft | an.SayAgain
"""Answers that list what was asked for, however long it is."""


# --- what there is, from the unions ---------------------------------------------------------------
def members(union: Any) -> tuple[type[BaseModel], ...]:
    """The models of a union, and of the unions in it."""
    if isinstance(union, type):
        return (union,)
    parts = get_args(union)[:1] if hasattr(union, "__metadata__") else get_args(union)
    return tuple(model for part in parts for model in members(part))


def kinds(union: Any, key: str) -> frozenset[str]:
    """What tells the models of a union apart."""
    return frozenset(
        kind for model in members(union) for kind in get_args(model.model_fields[key].annotation)
    )


def choices(annotation: Any) -> tuple[Any, ...]:
    """The few words that may stand in a field, or none where anything may."""
    if annotation is bool:
        return (True, False)
    if get_origin(annotation) is Literal:
        return get_args(annotation)
    return tuple(one for part in get_args(annotation) for one in choices(part))


INTENTS = kinds(Intent, "intent")
EVENTS = kinds(AnyEvent, "kind")
ANSWERS = frozenset(get_args(Answer))
QUESTIONS = frozenset(get_args(ev.Asked.model_fields["about"].annotation))
ENDINGS = frozenset(get_args(ev.Answered.model_fields["answer"].annotation))


# --- calls, from the grammar ----------------------------------------------------------------------
@dataclass(frozen=True)
class Call:
    """A sentence and what it means."""

    text: str
    intent: Intent

    @property
    def shape(self) -> tuple[str, ...]:
        """Its kind, which of the words that may be left out it has, and its choices of a few."""
        said = [self.intent.intent]
        for name, about in type(self.intent).model_fields.items():
            value = getattr(self.intent, name)
            if name != "intent" and value in choices(about.annotation):
                said.append(f"{name}={value}")
            elif not about.is_required() and value != about.default:
                said.append(name)
        return tuple(said)


def drawn(grammar: CallGrammar, random: Random, most: int = DRAWN) -> Calls:
    """Calls by their shape."""
    begun: dict[tuple[str, ...], int] = {}
    found: Calls = {}
    for _ in range(most):
        words = [word for word in grammar.generate(random) if word != "bench"]
        start = tuple(words[:2])
        if begun.setdefault(start, 0) < ALIKE:
            begun[start] += 1
            call = Call(" ".join(words), meanings(words, grammar)[0])
            found.setdefault(call.shape, []).append(call)
    spoken = Call("note the owner wants it by friday", Note(text="the owner wants it by friday"))
    return {**found, spoken.shape: [spoken]}


Calls = dict[tuple[str, ...], list[Call]]


# --- a job that is called at ----------------------------------------------------------------------
class Kept:
    """A log in memory, put on the disk at the end: nothing here is about power cuts."""

    def __init__(self, folder: Path, records: Sequence[Record]) -> None:
        self.folder = folder
        self.records = list(records)

    @property
    def next_seq(self) -> int:
        return len(self.records) + 1

    def append(self, events: Sequence[AnyEvent], at: datetime) -> list[Record]:
        new = [Record(seq, at, event) for seq, event in enumerate(events, start=self.next_seq)]
        self.records.extend(new)
        return new

    def close(self) -> None:
        prev, lines = FIRST_PREV, []
        for record in self.records:
            lines.append(encode(record, prev))
            prev = digest(lines[-1])
        (self.folder / LOG_NAME).write_bytes(b"".join(line + b"\n" for line in lines))


class Noted(Session):
    """A session that notes what it answers, and whether that can be spoken."""

    answered: set[type]
    faults: list[str]
    now_called = ""

    def _record(
        self,
        heard: ev.Heard | None,
        events: Sequence[AnyEvent],
        answers: Sequence[Answer],
        at: datetime,
        reply: Reply | None = None,
    ) -> Exchange:
        left = self._cautions_left(events, answers)
        exchange = super()._record(heard, events, answers, at, reply)
        self.answered.update(type(answer) for answer in answers)
        listed = any(isinstance(each, LISTED | ev.StartChecked) for each in (*answers, *events))
        asks = any(isinstance(event, ev.Asked) for event in events)
        if exchange.reply is not None:
            for piece in (exchange.reply.text, *(rest.text for rest in exchange.reply.rest)):
                for caution in left if asks else ():
                    # It had been cut off by this very call, and comes before the question.
                    piece = piece.replace(caution, "")
                whole = asks or "." not in piece.rstrip(".")
                self._judge(piece, None if listed else LONGEST_ASKED if whole else LONGEST)
        return exchange

    def _judge(self, piece: str, longest: float | None) -> None:
        if not speakable_and_careful(piece):
            self.faults.append(f"{self.now_called}: cannot be spoken: {piece}")
        elif longest is not None and seconds_to_say(piece) > longest:
            self.faults.append(f"{self.now_called}: {seconds_to_say(piece):.1f} s: {piece}")


class Bench:
    """A job at which calls are made in words, or doubted."""

    def __init__(self, folder: Path, card: str | None, sheet: str | None) -> None:
        opened = open_session(
            folder,
            at=MONDAY,
            card=load_card(card) if card else None,
            sheet=load_sheet(sheet) if sheet else None,
        )
        opened.close()
        self.log = Kept(folder, read_log(folder).records)
        self.now = MONDAY
        self.session = Noted.__new__(Noted)
        self.session.__dict__.update(opened.__dict__)
        self.session.writer = self.log  # type: ignore[assignment]
        self.session.answered, self.session.faults = set(), []
        self.meant: dict[str, tuple[Intent, ...]] = {}
        self.situation = "at the start"
        self.session.open(self.now)

    @property
    def state(self) -> State:
        return self.session.state

    @property
    def asked(self) -> bool:
        return self.state.question is not None

    def say(self, *calls: str) -> None:
        """Make calls that are understood at once."""
        for text in calls:
            if text not in self.meant:
                self.meant[text] = meanings(text.split(), self.session.grammar)
            if self.meant[text]:
                self._hear("record", text, self.meant[text][:1])

    def make(self, call: Call) -> None:
        """Call it, as it is meant."""
        self._hear("record", call.text, (call.intent,))

    def doubt(self, *calls: Call) -> None:
        """Make a call that may have been any of these."""
        self._hear("ask", calls[0].text, tuple(call.intent for call in calls))

    def wait(self, **time: float) -> None:
        """Let time pass, and ring what is due."""
        self.now += timedelta(**time)
        for _ in range(4):
            self.session.now_called = "the clock"
            self.session.tick(self.now)

    def ring_over(self) -> None:
        """A timer rings while a question is open; started in the log, as no call may come."""
        self.session._record(
            None,
            (ev.TimerStarted(name="soak", seconds=1.0, due=self.now + timedelta(seconds=1)),),
            (),
            self.now,
        )
        self.wait(seconds=2)

    def restart(self) -> None:
        self.session.now_called = "the program started again"
        self.session._record(None, (ev.SessionResumed(software="test"),), (), self.now)
        self.session.open(self.now)

    def answer_whatever_is_asked(self) -> None:
        for _ in range(8):
            if self.asked:
                self.say("negative")

    def close(self) -> None:
        self.log.close()

    def _hear(self, outcome: Outcome, text: str, intents: tuple[Intent, ...]) -> None:
        self.session.now_called = f"{outcome} {text}, then {self.situation}"
        decision = Decision(outcome, text, intents, 0.9, ("made in a test",))
        heard = ev.Heard(
            text=text,
            engine="test",
            confidence=decision.confidence,
            call_confidence=decision.confidence,
            outcome=outcome,
            reasons=decision.reasons,
        )
        self.session._act(heard, decision, self.now)
        self.now += timedelta(seconds=7)
        # Now and then the next call comes before the rest of an answer was said.
        while self.session.more_to_say and self.now.minute % 3:
            self.session.tick(self.now)


# --- what can happen to a call --------------------------------------------------------------------
@dataclass(frozen=True)
class Case:
    """A call with others to be taken for: one of its kind and one of another."""

    call: Call
    alike: Call
    other: Call


def recorded_and_taken_back(bench: Bench, case: Case) -> None:
    bench.make(case.call)
    bench.say("disregard")


def recorded_and_read_back(bench: Bench, case: Case) -> None:
    bench.make(case.call)
    bench.say("negative", "say again")
    subjects = {
        str(value).replace("-", " ")
        for name in ("measure", "fluid")
        if (value := getattr(case.call.intent, name, None))
    }
    bench.say(*(f"read back {subject}" for subject in subjects))


def taken_back_later(bench: Bench, case: Case) -> None:
    bench.make(case.call)
    bench.say("negative", "engine stopped", "disregard", "affirm")


def taken_back_later_but_not_after_all(bench: Bench, case: Case) -> None:
    bench.make(case.call)
    bench.say("negative", "stand by", "resume", "disregard", "negative")


def corrected(bench: Bench, case: Case) -> None:
    bench.make(case.call)
    bench.say("correction thirty one", "disregard", "correction twelve point five", "negative")


def doubted_and_affirmed(bench: Bench, case: Case) -> None:
    bench.doubt(case.call)
    bench.say("affirm", "affirm", "disregard")


def doubted_and_denied(bench: Bench, case: Case) -> None:
    bench.doubt(case.call)
    bench.say("negative")


def doubted_and_corrected(bench: Bench, case: Case) -> None:
    bench.doubt(case.call)
    bench.say("correction thirty one")


def doubted_and_replaced(bench: Bench, case: Case) -> None:
    bench.doubt(case.call)
    bench.make(case.other)


def doubted_and_called_again(bench: Bench, case: Case) -> None:
    bench.doubt(case.call)
    bench.make(case.call)


def doubted_and_doubted_again(bench: Bench, case: Case) -> None:
    bench.doubt(case.call)
    bench.say("say again", "roger")
    bench.doubt(case.other)
    bench.doubt(case.call)
    bench.say("affirm")


def rung_over(bench: Bench, case: Case) -> None:
    bench.doubt(case.call)
    bench.ring_over()
    bench.say("affirm", "roger", "affirm")


def answered_too_late(bench: Bench, case: Case) -> None:
    bench.doubt(case.call)
    bench.wait(minutes=3)
    bench.say("affirm", "affirm")


def one_of_two_alike(bench: Bench, case: Case) -> None:
    bench.doubt(case.call, case.alike)
    bench.say("negative", "affirm")


def one_of_two_unlike(bench: Bench, case: Case) -> None:
    bench.doubt(case.call, case.other)
    bench.say("affirm", "negative")


def none_of_three(bench: Bench, case: Case) -> None:
    bench.doubt(case.other, case.call, case.alike)
    bench.say("negative", "negative", "negative")


def started_again_while_asked(bench: Bench, case: Case) -> None:
    bench.doubt(case.call)
    bench.restart()
    bench.say("affirm")


Situation = Callable[[Bench, Case], None]
SITUATIONS: tuple[Situation, ...] = (
    recorded_and_taken_back,
    recorded_and_read_back,
    taken_back_later,
    taken_back_later_but_not_after_all,
    corrected,
    doubted_and_affirmed,
    doubted_and_denied,
    doubted_and_corrected,
    doubted_and_replaced,
    doubted_and_called_again,
    doubted_and_doubted_again,
    rung_over,
    answered_too_late,
    one_of_two_alike,
    one_of_two_unlike,
    none_of_three,
    started_again_while_asked,
)

STANDINGS: dict[str, tuple[str, ...]] = {
    "on": ("resume", "engine stopped"),
    "standing by": ("stand by",),
    "parked": ("park job",),
    "closed": ("resume", "close job", "affirm"),
    "running": ("resume", "engine running"),
    "tagged": (
        "resume",
        "engine stopped",
        "tag guard off",
        "removed spark plug",
        "drained two ounces of oil",
    ),
}
"""How a job may stand when a call comes, and what brings it there."""


def put_through(bench: Bench, calls: Calls, standing: str, random: Random, every: int) -> None:
    """Put every shape of call through every so manieth situation, the job standing so."""
    flat = [call for alike in calls.values() for call in alike]
    for shape, alike in enumerate(calls.values()):
        for situation in SITUATIONS[shape % every :: every]:
            bench.situation = f"{situation.__name__.replace('_', ' ')} while {standing}"
            bench.answer_whatever_is_asked()
            bench.say(*STANDINGS[standing])
            call = random.choice(alike)
            rivals = [each for each in alike if each != call] or alike
            situation(bench, Case(call, random.choice(rivals), random.choice(flat)))
    bench.answer_whatever_is_asked()


def walk(bench: Bench) -> None:
    """Go through the card, answering its questions one way and the other, skipping and going
    back."""
    bench.situation = "walking the card"
    ways = cycle(("step done", "affirm", "step done", "negative", "skip step later", "step back"))
    for way in islice(ways, 90):
        bench.say("affirm" if way == "negative" and not bench.asked else way)
        if bench.asked and way.startswith("step"):
            bench.say("affirm")


def timers_of_another_job(bench: Bench, folder: Path) -> None:
    """A timer of another job rings here, and is quieted."""
    other = Bench(folder, None, None)
    other.say("start soak timer five minutes", "start timer fifteen minutes")
    other.close()
    bench.session.watch_elsewhere(Elsewhere(bench.log.folder, lambda: [folder]))
    bench.wait(minutes=30)
    bench.say("roger")
    bench.session.elsewhere = None


@dataclass
class Shop:
    """Every job, closed and on the disk, and what was noted on the way."""

    folders: dict[Path, str | None] = field(default_factory=dict)
    called: set[str] = field(default_factory=set)
    answered: set[type] = field(default_factory=set)
    faults: list[str] = field(default_factory=list)

    def shut(self, bench: Bench) -> None:
        bench.close()
        self.answered |= bench.session.answered
        self.faults += bench.session.faults
        sheet = bench.state.sheet
        self.folders[bench.log.folder] = None if sheet is None else sheet.name

    @property
    def records(self) -> Iterator[Record]:
        for folder in self.folders:
            yield from read_log(folder).records


def fitted() -> Iterator[tuple[str | None, str | None]]:
    """Every card with a sheet that fits, and every sheet that is left over without a card."""
    for card in shipped_cards():
        yield card, FITTING.get(card, "quillmoor-tiller")
    used = {FITTING.get(card, "quillmoor-tiller") for card in shipped_cards()}
    yield from ((None, sheet) for sheet in shipped_sheets() if sheet not in used)


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    data = tmp_path_factory.mktemp("data")
    random = Random(20)
    shop = Shop()
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("BENCH_COMPANION_DATA", str(data))
        sessions = data / "sessions"
        for card, sheet in ((None, None), ("four-stroke-service", "quillmoor-tiller")):
            calls: Calls = {}
            for standing in STANDINGS:
                bench = Bench(sessions / f"{sheet}-{standing}".replace(" ", "-"), card, sheet)
                calls = calls or drawn(bench.session.grammar, random)
                shop.called |= {shape[0] for shape in calls}
                put_through(bench, calls, standing, random, OFTEN if standing == "on" else RARELY)
                shop.shut(bench)
        for card, sheet in fitted():
            bench = Bench(sessions / f"{sheet}-{card}", card, sheet)
            timers_of_another_job(bench, sessions / f"{sheet}-{card}-other")
            walk(bench)
            bench.session.trouble("The microphone is gone; plug it in again.", bench.now)
            put_through(bench, drawn(bench.session.grammar, random, 3000), "on", random, ONCE)
            shop.shut(bench)
        yield shop


def test_every_kind_of_call_was_drawn(shop: Shop) -> None:
    assert shop.called == INTENTS


def test_every_kind_of_event_came_up(shop: Shop) -> None:
    assert {record.event.kind for record in shop.records} == EVENTS


def test_every_kind_of_question_was_put_and_ended_in_every_way(shop: Shop) -> None:
    events = [record.event for record in shop.records]
    assert {event.about for event in events if isinstance(event, ev.Asked)} == QUESTIONS
    assert {event.answer for event in events if isinstance(event, ev.Answered)} == ENDINGS


def test_every_kind_of_answer_was_given(shop: Shop) -> None:
    assert {kind.__name__ for kind in shop.answered} == {kind.__name__ for kind in ANSWERS}


def test_whatever_was_said_can_be_spoken_and_is_short(shop: Shop) -> None:
    assert not shop.faults, "\n".join(shop.faults[:20])


def test_every_log_is_whole_and_listed(shop: Shop) -> None:
    for folder in shop.folders:
        assert check_log(folder).ok
        records = read_log(folder).records
        listed = [line for line in log_lines(folder) if line[:5].strip().isdigit()]
        assert [int(line[:5]) for line in listed] == [record.seq for record in records]
        assert folder.name in session_line(summarize(folder))


def test_every_log_is_shown_on_every_page(shop: Shop) -> None:
    for folder in shop.folders:
        assert render_report(folder).rstrip().endswith("</html>")
        assert render_handover(folder).rstrip().endswith("</html>")
        tags = render_tags(folder)
        assert all(tag.tag in tags.lower() for tag in fold(read_log(folder).records).tags)
        for form in FORMS.values():
            assert form(parts_list(folder))
    for machine in {machine for machine in shop.folders.values() if machine is not None}:
        assert history_lines(machine)[0].startswith(machine)


def test_every_log_is_taken_up_again(shop: Shop) -> None:
    for folder in shop.folders:
        again = resume_session(folder, at=MONDAY + timedelta(days=30))
        again.open(MONDAY + timedelta(days=30))
        again.close()
