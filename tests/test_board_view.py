"""What the board on the wall shows: the job, the running program and the time, in words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from companion.job.card import JobCard
from companion.job.events import Said
from companion.job.sheet import SpecSheet
from companion.log.live_status import SILENT_AFTER, LiveStatus, Mode
from companion.session.opening import open_session
from companion.session.session import Session
from companion.speak.wording import Reply
from companion.web.board_view import Board, board_of
from tests.bench_job import CARD, SHEET

AT = datetime(2026, 4, 11, 9, 0, tzinfo=UTC)
LISTENING = LiveStatus("listening", AT, AT)


class Bench:
    """A typed session, and the board that stands beside it."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.now = AT
        self.said: Said | None = None
        self.reply: Reply | None = None
        self._take(session.open(AT).records)

    def call(self, *calls: str) -> Board:
        for text in calls:
            self.now += timedelta(seconds=10)
            exchange = self.session.typed(text, self.now)
            self.reply = exchange.reply
            self._take(exchange.records)
        return self.board()

    def wait(self, **time: float) -> Board:
        self.now += timedelta(**time)
        exchange = self.session.tick(self.now)
        if exchange is not None:
            self._take(exchange.records)
        return self.board()

    def board(self, live: LiveStatus | None = LISTENING) -> Board:
        if live is not None and live.sign is not None:
            live = replace(live, sign=self.now)
        return board_of(self.session.state, live, self.now, self.said)

    def _take(self, records: tuple[object, ...]) -> None:
        for record in records:
            event = getattr(record, "event", None)
            if isinstance(event, Said) and not event.goes_on:
                self.said = event


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    session = open_session(
        tmp_path / "job",
        at=AT,
        card=JobCard.model_validate(CARD),
        sheet=SpecSheet.model_validate(SHEET),
    )
    yield Bench(session)
    session.close()


@pytest.fixture
def bare(tmp_path: Path) -> Iterator[Bench]:
    session = open_session(tmp_path / "bare", at=AT)
    yield Bench(session)
    session.close()


def test_the_step_the_next_one_and_how_many_there_are(bench: Bench) -> None:
    board = bench.board()
    assert board.machine == "Tumblewick 5 tiller"
    assert board.job == "Yearly service"
    assert board.steps == 5
    assert board.step is not None
    assert (board.step.place, board.step.name) == (1, "make safe")
    assert board.step.say == "Key out and plug wire off."
    assert board.step.cautions == ("Caution. A hot muffler burns.",)
    assert board.next is not None
    assert (board.next.place, board.next.name) == (2, "drain oil")


def test_what_is_left_of_a_step_is_shown_whole_until_it_is_called(bench: Bench) -> None:
    board = bench.call("step done", "step done")
    assert board.step is not None
    assert board.step.left == ("auger shaft", "axle")
    board = bench.call("greased axle")
    assert board.step is not None
    assert board.step.left == ("auger shaft",)
    # The next step lacks nothing yet: nobody is at it.
    assert board.next is not None
    assert board.next.left == ()


def test_what_holds_the_start_is_the_gates_own_answer(bench: Bench) -> None:
    board = bench.call("step done", "drained ten ounces of oil", "tire loose", "clear to start")
    assert board.start.words == "Do not start"
    assert [hold.tag for hold in board.start.holds][:2] == ["plug wire off", "no oil"]
    assert bench.reply is not None
    spoken = bench.reply.whole.lower()
    for hold in board.start.holds:
        assert hold.why.lower() in spoken.replace("two ", "2 ")
        assert hold.tag is None or f"tag {hold.tag}: {hold.why.lower()}" in spoken


def test_a_board_with_nothing_that_holds_never_says_safe(bare: Bench) -> None:
    board = bare.board()
    assert board.start.words == "No tag hangs"
    assert board.start.holds == ()
    assert {"guards", "controls", "fuel leaks", "people near"} <= set(board.start.unknown)
    assert "safe" not in str(board).lower()


def test_an_engine_that_runs_against_a_tag_is_to_be_stopped(bare: Bench) -> None:
    assert bare.call("engine running").start.words == "Engine running"
    assert bare.call("tag no oil").start.words == "Stop the engine"
    assert bare.call("engine stopped").start.words == "Do not start"


def test_all_timers_stand_with_their_deadlines_the_soonest_first(bare: Bench) -> None:
    board = bare.call("start soak timer two hours", "start drain timer five minutes")
    assert [timer.name for timer in board.timers] == ["drain", "soak"]
    assert board.timers[0].due == bare.now + timedelta(minutes=5)
    assert not board.timers[0].rings
    board = bare.wait(minutes=6)
    assert [(timer.name, timer.rings) for timer in board.timers] == [
        ("drain", True),
        ("soak", False),
    ]
    assert [timer.name for timer in bare.call("roger").timers] == ["soak"]


def test_the_last_reading_has_its_verdict_in_words(bench: Bench) -> None:
    board = bench.call("compression seventy five p s i")
    assert board.reading is not None
    assert board.reading.words == "compression 75 psi"
    assert board.reading.verdict == "low by 15"
    assert board.reading.amiss
    assert board.reading.wanted == "at least 90 psi"
    board = bench.call("correction ninety five p s i")
    assert board.reading is not None
    assert (board.reading.words, board.reading.verdict) == ("compression 95 psi", "in")
    assert not board.reading.amiss
    assert bench.call("disregard").reading is not None


def test_the_last_answer_stands_with_what_it_answers(bench: Bench) -> None:
    board = bench.call("compression seventy five p s i")
    assert board.readback is not None
    assert board.readback.heard == "compression seventy five p s i"
    assert "Low by fifteen." in board.readback.said
    assert (board.readback.outcome, board.readback.amiss) == ("taken", False)
    board = bench.call("the dog wants out")
    assert board.readback is not None
    assert (board.readback.outcome, board.readback.amiss) == ("not taken: say again", True)


def test_what_the_clock_brings_answers_no_call(bare: Bench) -> None:
    board = bare.call("start drain timer five minutes")
    assert board.readback is not None
    assert board.readback.heard is not None
    board = bare.wait(minutes=6)
    assert board.readback is not None
    assert board.readback.heard is None
    assert board.readback.said == "Drain timer rings."


def test_the_open_question_and_what_may_be_said_to_it(bare: Bench) -> None:
    assert bare.board().question is None
    board = bare.call("clear to start")
    assert board.question is not None
    assert board.question.endswith("Clear to start?")
    assert board.help.startswith("A question is open: affirm, or negative.")
    board = bare.call("negative")
    assert board.question is None


def test_help_is_what_help_answers(bench: Bench) -> None:
    for calls in ((), ("step done", "step done"), ("clear tag plug wire off",)):
        board = bench.call(*calls)
        bench.call("help")
        assert bench.reply is not None
        assert bench.reply.text == board.help
        if board.question is not None:
            bench.call("negative")
    assert bench.call("stand by").help == "Say resume to go on."


@pytest.mark.parametrize(
    ("mode", "listens", "words"),
    [
        ("listening", "yes", "Listening"),
        ("key", "later", "Waits for the key"),
        ("speaking", "later", "Speaking"),
        ("typed", "later", "Takes typed calls"),
        ("no microphone", "no", "Microphone gone"),
        (None, "no", "Not known"),
    ],
)
def test_whether_it_listens_is_what_the_running_program_says(
    bare: Bench, mode: Mode | None, listens: str, words: str
) -> None:
    shown = bare.board(LiveStatus(mode, AT, AT)).listening
    assert (shown.listens, shown.words) == (listens, words)


def test_standing_by_does_not_hide_a_lost_microphone(bare: Bench) -> None:
    board = bare.call("stand by")
    assert board.listening.words == "Standing by"
    assert bare.board(LiveStatus("no microphone", AT, AT)).listening.words == "Microphone gone"
    assert bare.call("resume").listening.words == "Listening"


def test_a_program_that_ended_or_is_stuck_does_not_listen(bare: Bench) -> None:
    assert bare.board(None).listening.words == "Not running"
    assert bare.board(None).listening.listens == "no"
    late = AT + SILENT_AFTER + timedelta(seconds=1)
    shown = board_of(bare.session.state, LISTENING, late).listening
    assert (shown.listens, shown.words) == ("no", "Not answering")
    assert shown.more == "No sign of life since 09:00:00."


def test_a_job_that_is_parked_still_shows_what_hangs(bench: Bench) -> None:
    board = bench.call("park job")
    assert board.ended == "parked"
    assert board.start.words == "Do not start"
    assert board.help == "Say resume to go on."
    assert bench.board(None).listening.more == "The job is parked."
