"""Whatever is called, wherever the job stands: it is worded, kept, read back and on each page.

The kinds of calls, of events and of answers are taken from their unions, and the calls from the
grammar: a new kind fails here until it has its words. Each call is made, doubted, affirmed, denied,
replaced, rung over by a timer, disregarded and corrected, on jobs that stand in different ways; the
logs that come of it are then opened again, listed, and put on every page.
"""

from __future__ import annotations

import io
import re
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from functools import cached_property
from hashlib import sha256
from itertools import cycle, islice
from pathlib import Path
from random import Random
from shutil import rmtree
from typing import Any, Literal, get_args, get_origin

import pytest
from PIL import Image
from pydantic import BaseModel

from companion.enroll.ways_file import WaysFile
from companion.grammar.compiled import CallGrammar, load_grammar
from companion.grammar.vocabulary import Vocabulary
from companion.intent.intents import Intent, Note
from companion.intent.match import EXACT_WORDS
from companion.intent.meaning import meanings
from companion.intent.outcome import Decision, Outcome
from companion.job import answers as an
from companion.job import events as ev
from companion.job import steps
from companion.job.answers import Answer
from companion.job.events import AnyEvent
from companion.job.folding.evolve import fold
from companion.job.record import Record
from companion.job.review import Said, confirm_note, correct, mark, set_aside
from companion.job.review_turn import Change, Looked, NotReviewed
from companion.job.reviewed_call import ReviewedCall, find_call
from companion.job.rules import Rules
from companion.job.state import State
from companion.log.check import check_log
from companion.log.history import history_lines
from companion.log.identity import Identity
from companion.log.index import SessionIndex
from companion.log.index_lines import session_line
from companion.log.line import FIRST_PREV, LOG_NAME, digest, encode
from companion.log.machine_before import MachineBefore
from companion.log.machine_watch import MachineWatch
from companion.log.reader import LogContents, read_log
from companion.log.writer import LogWriter
from companion.report.handover import render_handover
from companion.report.hang_tags import render_tags
from companion.report.log_lines import log_lines
from companion.report.page import render_report
from companion.report.parts import FORMS, parts_list
from companion.session.exchange import Exchange
from companion.session.opening import open_session, resume_session
from companion.session.other_timers import OtherTimers
from companion.session.session import Session
from companion.shelf.load import load_card, load_sheet, shipped_cards, shipped_sheets
from companion.shelf.rules import shipped_rules
from companion.shelf.words import vocabulary_of
from companion.speak.pieces import seconds_to_say
from companion.speak.questions import question_phrase
from companion.speak.wording import Reply, word
from tests.conftest import Run
from tests.test_speak_length import LONGEST, LONGEST_ASKED
from tests.test_speak_wording import speakable_and_careful

MONDAY = datetime.fromisoformat("2026-03-02T09:15:00+01:00")
"""When every job begins."""
DRAWN = 3000
"""Sentences drawn of a grammar; the rarest call is one in some five hundred."""
LOOKED_OVER = 60
"""Records of a job that are looked over, if they are of a call."""
FAR = 20
"""How many times as many are drawn until one of every kind is among them, for some are rare."""
FEW = 250
"""The same of the jobs beside the first two."""

LAST_YEAR = MachineBefore(
    readings=tuple(
        ev.EarlierReading(
            measure=measure,
            value=Decimal(value),
            unit=unit,
            verdict="unknown",
            at=MONDAY - timedelta(days=360),
            session="2025-03-07-0900-earlier",
        )
        for measure, value, unit in (("gap", "30", "thou"), ("compression", "95", "psi"))
    )
)
"""What the machine read before."""

FITTING = {
    "blade-service": "tarnfield-mower",
    "generator-load-check": "brackwater-generator",
    "two-stroke-service": "wrenlow-trimmer",
}
"""A sheet that fits a card; the tiller fits every other."""
CAUTION = re.compile(r"Caution\. [^.?!]+[.?!]")
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
    begun: set[tuple[str | bool, ...]] = set()
    found: Calls = {}
    kinds = {"note"}
    for count in range(FAR * most):
        if count >= most and (most < DRAWN or kinds == INTENTS):
            break
        words = [word for word in grammar.generate(random) if word != "bench"]
        start = (*words[:3], "plug" in words)
        if start not in begun:
            begun.add(start)
            call = Call(" ".join(words), meanings(words, grammar)[0])
            found.setdefault(call.shape, []).append(call)
            kinds.add(call.shape[0])
    spoken = Call("note the owner wants it by friday", Note(text="the owner wants it by friday"))
    return {**found, spoken.shape: [spoken]}


Calls = dict[tuple[str, ...], list[Call]]


# --- a job that is called at ----------------------------------------------------------------------
_GRAMMARS: dict[str, CallGrammar] = {}


def grammar_of(vocabulary: Vocabulary) -> CallGrammar:
    """The grammar of a job, compiled once for all jobs with the same words."""
    words = repr(vocabulary)
    if words not in _GRAMMARS:
        _GRAMMARS[words] = load_grammar(vocabulary)
    return _GRAMMARS[words]


class Kept:
    """A log in memory, put on the disk at the end: nothing here is about power cuts."""

    def __init__(self, folder: Path, records: Sequence[Record]) -> None:
        self.folder = folder
        self.records = list(records)

    @property
    def next_seq(self) -> int:
        return len(self.records) + 1

    @contextmanager
    def turn(self, patience: float = 0.0) -> Iterator[list[Record]]:
        yield []

    def recovered(self) -> None:
        return None

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
        exchange = super()._record(heard, events, answers, at, reply)
        self.answered.update(type(answer) for answer in answers)
        # Whoever asks for a list, or whether everything is clear, wants all of it.
        listed = any(isinstance(each, LISTED | ev.StartChecked) for each in (*answers, *events))
        asked = [question_phrase(self.state, e).text for e in events if isinstance(e, ev.Asked)]
        if exchange.reply is not None:
            for piece in (exchange.reply.text, *(rest.text for rest in exchange.reply.rest)):
                # A question comes in one piece with what the call did, and with its cautions.
                ends = next((text for text in asked if piece.endswith(text)), "")
                for caution in CAUTION.findall(piece) if ends else ():
                    piece = piece.replace(caution, "")
                self._judge(piece.removesuffix(ends), None if listed else LONGEST)
                self._judge(ends, None if listed else LONGEST_ASKED)
        return exchange

    def _judge(self, piece: str, longest: float | None) -> None:
        if not piece.strip():
            return
        if not speakable_and_careful(piece):
            self.faults.append(f"{self.now_called}: cannot be spoken: {piece}")
        # A single sentence that is too long cannot be cut; those with long figures are.
        elif longest is not None and seconds_to_say(piece) > longest and piece.count(". "):
            self.faults.append(f"{self.now_called}: {seconds_to_say(piece):.1f} s: {piece}")


class Bench:
    """A job at which calls are made in words, or doubted."""

    def __init__(
        self, folder: Path, card: str | None, sheet: str | None, others: Sequence[Path] = ()
    ) -> None:
        spec = load_sheet(sheet) if sheet else None
        identity = None if spec is None else Identity(spec.name)
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("companion.session.listened_for.load_grammar", grammar_of)
            opened = open_session(
                folder,
                at=MONDAY,
                card=load_card(card) if card else None,
                sheet=spec,
                earlier=LAST_YEAR,
                machine=identity and MachineWatch(identity, folder, lambda: others, gone=dict),
            )
        opened.close()
        self.log = Kept(folder, read_log(folder).records)
        self.now = MONDAY
        self.session = Noted.__new__(Noted)
        self.session.__dict__.update(opened.__dict__)
        self.session.log.writer = self.log  # type: ignore[assignment]
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

    @property
    def skipped(self) -> list[str]:
        """The steps that are skipped and not done since."""
        marks = self.state.steps.items()
        return [name for name, mark in marks if mark.skipped is not None and mark.done is None]

    def close(self) -> None:
        """Put the log on the disk."""
        self.log.close()

    def keep(self, change: Change) -> None:
        """Write what a review brought, and note whether it can be spoken."""
        told = [event for event in change.events if not isinstance(event, ev.Asked | ev.Answered)]
        reply = word(change.after, told, change.answers)
        for text in (
            *(question_phrase(change.after, each).text for each in change.asks),
            *(() if reply is None else (reply.whole,)),
        ):
            self.session._judge(text, None)
        self.log.append(change.events, self.now)
        self.session.state = change.after

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


def put_through(
    bench: Bench, calls: Calls, standing: str, random: Random, every: int, first: int, of: int = 1
) -> None:
    """Put calls of each kind, or of one in so many, through every so manieth situation from the
    first, while the job stands so; the next kind begins with the next situation."""
    by_kind: dict[str, list[list[Call]]] = {}
    for shape, alike in calls.items():
        by_kind.setdefault(shape[0], []).append(alike)
    flat = [call for alike in calls.values() for call in alike]
    for number, kind in enumerate(sorted(by_kind)[random.randrange(of) :: of]):
        shapes = cycle(by_kind[kind])
        for situation in SITUATIONS[(first + number) % every :: every]:
            alike = next(shapes)
            call = random.choice(alike)
            rivals = [each for each in alike if each != call] or alike
            bench.situation = f"{situation.__name__.replace('_', ' ')} while {standing}"
            bench.answer_whatever_is_asked()
            bench.say(*STANDINGS[standing])
            situation(bench, Case(call, random.choice(rivals), random.choice(flat)))
    bench.answer_whatever_is_asked()


def walk(bench: Bench) -> None:
    """Go through the card, answering its questions one way and the other, skipping and going
    back."""
    bench.situation = "walking the card"
    ways = cycle(("step done", "affirm", "step done", "negative", "skip step later", "step back"))
    for way in islice(ways, 72):
        bench.say("affirm" if way == "negative" and not bench.asked else way)
        here = steps.current(bench.state)
        if here is not None and not bench.asked:
            bench.say(*(f"cleaned {point}" for point in here.points))
        if bench.asked and way.startswith("step"):
            bench.say("affirm")
        if way.startswith("skip") and bench.skipped:
            bench.say(f"go to step {bench.skipped[0].replace('-', ' ')}")


def hour_meter_that_went_back(bench: Bench) -> None:
    """A lower reading of what only counts up is asked about, and ends in every way."""
    bench.situation = "an hour meter that went back"
    bench.answer_whatever_is_asked()
    bench.say("resume", "engine hours ninety hours", "affirm")
    for answer in ("negative", "correction ninety one hours", "affirm"):
        bench.say("engine hours eighty hours", answer)
    bench.answer_whatever_is_asked()


def timers_of_another_job(bench: Bench, folder: Path) -> None:
    """A timer of another job rings here, and is quieted."""
    with LogWriter.create(folder) as other:
        opened = ev.SessionOpened(
            session=folder.name, machine=None, card=None, call_sign="bench", ounce="us", software=""
        )
        due = bench.now + timedelta(minutes=5)
        other.append([opened, ev.TimerStarted(name="soak", seconds=300, due=due)], bench.now)
    bench.session.watch_other_timers(OtherTimers(bench.log.folder, lambda: [folder]))
    bench.wait(minutes=30)
    bench.say("roger")
    bench.session.other_timers = None
    rmtree(folder)


def left_by_another_job(folder: Path, sheet: str) -> Bench:
    """A job on the same machine, put aside with much left to do."""
    bench = Bench(folder, None, sheet)
    bench.say("removed spark plug", "drained ten ounces of oil", "follow up carburetor")
    bench.say("need two spark plugs", "fuel line leaking", "park job")
    return bench


def tags_that_stay(bench: Bench) -> None:
    """Go on with this job and not the other; try to take down what must stay, and to start."""
    bench.situation = "with another job on the machine"
    bench.say("negative", "clear tag no oil", "clear to start", "read back parts", "read tags")


def ways_of_ones_own(bench: Bench, path: Path) -> None:
    """Fail twice with the same words, say it as it is known, and answer what is then asked."""
    bench.situation = "with a way of one's own"
    bench.answer_whatever_is_asked()
    bench.session.listened_for.own_ways = WaysFile(None, path)
    for own, answer in (("fed her", "negative"), ("treated with", "affirm")):
        for said in (own, own, "added"):
            bench.session.now_called = f"{said} five ounces of oil"
            bench.session.typed(bench.session.now_called, bench.now)
        bench.say(answer)


def looked_over(bench: Bench, calls: Calls, random: Random) -> None:
    """Look the job over afterwards: mark, correct, set aside, confirm and sign off; whatever has to
    be affirmed is."""
    bench.situation = "looked over afterwards"
    flat = [call for alike in calls.values() for call in alike]
    looked = Looked("Rosa", bench.now, "misheard")
    for number in random.sample(range(1, bench.state.seq + 1), min(LOOKED_OVER, bench.state.seq)):
        call = find_call(bench.log.records, number)
        if call is None:
            continue
        really = random.choice(flat)
        bench.session.now_called = f"record {number} was really {really.text}"
        said = Said(really.text, really.intent, bench.state)
        for change in reviews_of(bench, call, said, looked):
            bench.keep(change)
    bench.log.append([ev.SignedOff(by="Rosa"), *laid_beside(bench.log.folder)], bench.now)
    bench.session.state = fold(bench.log.records, shipped_rules())


def laid_beside(folder: Path) -> Iterator[AnyEvent]:
    """A photo and a work order."""
    picture = io.BytesIO()
    Image.new("RGB", (40, 30)).save(picture, "PNG")
    (folder / "photos").mkdir(parents=True)
    (folder / "photos" / "1.png").write_bytes(picture.getvalue())
    yield ev.PhotoAdded(
        file="photos/1.png", sha256=sha256(picture.getvalue()).hexdigest(), by="Rosa"
    )
    yield ev.WorkOrderKept(customer="Ida Fenwick", number="118")


def reviews_of(bench: Bench, call: ReviewedCall, said: Said, looked: Looked) -> Iterator[Change]:
    """Each review that can be made of a call, after the one before it was kept."""
    yield mark(bench.state, call, "wrong" if call.record % 2 else "right", looked)
    with suppress(NotReviewed):
        yield confirm_note(bench.state, call, "the owner wants it by friday", looked)
    with suppress(NotReviewed):
        yield correct(bench.state, call, said, looked)
    if call.record % 3:
        with suppress(NotReviewed):
            yield set_aside(bench.state, call, looked)


@dataclass
class Shop:
    """Every job, on the disk, as it stood when it was left; and what was noted on the way."""

    jobs: dict[Path, State] = field(default_factory=dict)
    called: set[str] = field(default_factory=set)
    answered: set[type] = field(default_factory=set)
    faults: list[str] = field(default_factory=list)

    def leave(self, bench: Bench) -> None:
        bench.close()
        self.answered |= bench.session.answered
        self.faults += bench.session.faults
        self.jobs[bench.log.folder] = bench.state

    @cached_property
    def logs(self) -> dict[Path, LogContents]:
        """Every log, read back from the disk."""
        return {folder: read_log(folder) for folder in self.jobs}

    @property
    def events(self) -> Iterator[AnyEvent]:
        for contents in self.logs.values():
            yield from (record.event for record in contents.records)


def fitted() -> Iterator[tuple[str | None, str]]:
    """Every card with a sheet that fits, and every sheet that is left over without a card."""
    for card in shipped_cards():
        yield card, FITTING.get(card, "quillmoor-tiller")
    used = {FITTING.get(card, "quillmoor-tiller") for card in shipped_cards()}
    yield from ((None, sheet) for sheet in shipped_sheets() if sheet not in used)


@pytest.fixture
def read_once(every_job: Shop, monkeypatch: pytest.MonkeyPatch) -> Shop:
    """Logs that change no more, read and folded once for all pages instead of by each of them."""
    states = {id(contents.records): every_job.jobs[f] for f, contents in every_job.logs.items()}

    def read(folder: Path) -> LogContents:
        return every_job.logs[folder]

    def folded(records: tuple[Record, ...], rules: Rules) -> State:
        return states[id(records)]

    for name, module in list(sys.modules.items()):
        for function, instead in ((read_log, read), (fold, folded)):
            held = vars(module).get(function.__name__) if name.startswith("companion.") else None
            if held is function:
                monkeypatch.setattr(module, function.__name__, instead)
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(next(iter(every_job.jobs)).parent.parent))
    return every_job


@pytest.fixture(scope="module")
def every_job(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    data = tmp_path_factory.mktemp("data")
    sessions, random, shop = data / "sessions", Random(20), Shop()
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("BENCH_COMPANION_DATA", str(data))
        for card, sheet in ((None, None), ("four-stroke-service", "quillmoor-tiller")):
            calls: Calls = {}
            for turn, standing in enumerate(STANDINGS):
                bench = Bench(sessions / f"{sheet}-{standing}".replace(" ", "-"), card, sheet)
                calls = calls or drawn(bench.session.grammar, random)
                shop.called |= {shape[0] for shape in calls}
                bench.say(
                    "read back gap", "clear to start", "affirm", "engine running", "engine stopped"
                )
                # Between them these two jobs have every kind of call in every situation.
                every = 2 if standing == "on" else len(SITUATIONS)
                first, of = turn + (card is not None), 2 if turn and card is None else 1
                put_through(bench, calls, standing, random, every, first, of)
                shop.leave(bench)
        for card, sheet in fitted():
            before = left_by_another_job(sessions / f"{sheet}-{card}-before", sheet)
            shop.leave(before)
            bench = Bench(sessions / f"{sheet}-{card}", card, sheet, (before.log.folder,))
            tags_that_stay(bench)
            timers_of_another_job(bench, sessions / f"{sheet}-{card}-other")
            hour_meter_that_went_back(bench)
            if card == shipped_cards()[0]:
                ways_of_ones_own(bench, data / "ways.toml")
            walk(bench)
            bench.session.trouble("The microphone is gone; plug it in again.", bench.now)
            calls = drawn(bench.session.grammar, random, FEW)
            put_through(bench, calls, "on", random, len(SITUATIONS), random.randrange(99), of=2)
            looked_over(bench, calls, random)
            shop.leave(bench)
        yield shop


def test_every_kind_of_call_was_drawn(every_job: Shop) -> None:
    assert every_job.called == INTENTS


def test_every_kind_of_event_came_up(every_job: Shop) -> None:
    assert {event.kind for event in every_job.events} == EVENTS


def test_every_kind_of_question_was_put_and_ended_in_every_way(every_job: Shop) -> None:
    assert {event.about for event in every_job.events if isinstance(event, ev.Asked)} == QUESTIONS
    assert {event.answer for event in every_job.events if isinstance(event, ev.Answered)} == ENDINGS


def test_every_kind_of_answer_was_given(every_job: Shop) -> None:
    assert {kind.__name__ for kind in every_job.answered} == {kind.__name__ for kind in ANSWERS}


def test_whatever_was_said_can_be_spoken_and_is_short(every_job: Shop) -> None:
    assert not every_job.faults, "\n".join(every_job.faults[:20])


def test_every_log_is_whole_and_gives_the_state_that_the_job_was_left_in(every_job: Shop) -> None:
    for folder, left in every_job.jobs.items():
        assert check_log(folder).ok
        assert fold(every_job.logs[folder].records, shipped_rules()) == left


def test_every_record_has_its_line(read_once: Shop) -> None:
    with SessionIndex() as index:
        rows = {row.folder: row for row in index.sessions(limit=None).rows}
    for folder, left in read_once.jobs.items():
        numbers = [line[:5].strip() for line in log_lines(folder)]
        assert [int(n) for n in numbers if n.isdigit()] == list(range(1, left.seq + 1))
        assert folder.name in session_line(rows[folder], MONDAY)


def test_every_log_is_shown_on_every_page(read_once: Shop) -> None:
    for folder, left in read_once.jobs.items():
        assert render_report(folder).rstrip().endswith("</html>")
        assert render_handover(folder).rstrip().endswith("</html>")
        tags = render_tags(folder)
        assert all(f">{tag.tag}<" in tags for tag in left.tags)
        listed = parts_list(folder)
        assert all(form(listed) for form in FORMS.values())


def test_the_history_tells_of_every_job_of_a_machine(read_once: Shop) -> None:
    machine = load_sheet("quillmoor-tiller").name
    told = "\n".join(history_lines(machine))
    with SessionIndex() as index:
        assert any(each.standing for each in index.machines() if each.name == machine)
    for folder, left in read_once.jobs.items():
        is_its = left.sheet is not None and left.sheet.name == machine
        assert (f"({folder.name})" in told) == is_its


def test_a_job_is_taken_up_again_however_it_was_left(
    every_job: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("companion.session.listened_for.load_grammar", grammar_of)
    for folder, left in every_job.jobs.items():
        if left.sheet is None:
            again = resume_session(folder, at=MONDAY + timedelta(days=30))
            again.open(MONDAY + timedelta(days=30))
            again.typed("clear to start", MONDAY + timedelta(days=30))
            again.close()


def with_a_slip(call: Call) -> str:
    """A call typed with a letter missing from its longest word that is no number and no unit."""
    words = call.text.split()
    longest = max((word for word in words if word not in EXACT_WORDS), key=len)
    return " ".join(word[:-2] + word[-1] if word == longest else word for word in words)


def test_the_program_itself_asks_about_doubtful_calls_of_every_kind(
    companion: Run, tmp_path: Path
) -> None:
    words = vocabulary_of(load_card("four-stroke-service"), load_sheet("quillmoor-tiller"))
    shortest: dict[str, Call] = {}
    for (kind, *_), calls in drawn(grammar_of(words), Random(20)).items():
        best = min(calls, key=lambda call: len(call.text))
        shortest[kind] = min(shortest.get(kind, best), best, key=lambda call: len(call.text))
    # Parking and closing end the program, so that nothing can come after them.
    slips = [with_a_slip(call) for kind, call in shortest.items() if not kind.startswith("job.")]
    typed = ["gap three hundred thou", "negative"]
    typed += [line for slip in slips for line in (slip, "affirm", "negative", "resume")]
    typed += [with_a_slip(shortest["job.park"])]
    run = companion(
        "work", "--typed", "--quiet", "--job", "four-stroke-service",
        "--machine", "quillmoor-tiller", "--out", "job",
        typed="".join(f"{line}\n" for line in typed),
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    assert "Traceback" not in run.stdout + run.stderr
    heard = [r.event for r in read_log(tmp_path / "job").records if isinstance(r.event, ev.Heard)]
    assert [event.text for event in heard] == typed
    asked = {event.text for event in heard if event.outcome == "ask"}
    assert len(asked) > len(slips) / 3, set(slips) - asked
