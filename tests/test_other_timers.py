"""Timers of jobs that were put aside ring at the bench of another one, naming the machine."""

from __future__ import annotations

from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from companion.job import events as ev
from companion.job.folding.evolve import fold
from companion.job.sheet import SpecSheet
from companion.job.state import State
from companion.log.check import check_log
from companion.log.reader import read_log
from companion.log.sessions import DATA_VARIABLE, sessions_folder
from companion.log.writer import LogWriter
from companion.session.exchange import Exchange
from companion.session.opening import open_session, resume_session
from companion.session.other_timers import LOOK_AGAIN, OtherTimers
from companion.session.session import Session
from companion.shelf.rules import shipped_rules
from tests.conftest import Run

MONDAY = datetime(2026, 4, 13, 9, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder of its own."""
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    return tmp_path


def job(name: str, machine: str | None = None, at: datetime = MONDAY) -> Session:
    sheet = None if machine is None else SpecSheet(name=machine, kind="invented", invented=True)
    return open_session(sessions_folder() / name, at=at, sheet=sheet)


def parked(name: str, machine: str | None, *calls: str) -> Path:
    session = job(name, machine)
    for call in (*calls, "park job"):
        session.typed(call, MONDAY)
    session.close()
    return session.folder


def bench(name: str = "bench") -> Session:
    session = job(name, "Brackwater generator")
    session.watch_other_timers(OtherTimers(session.folder))
    return session


def rings(exchange: Exchange | None) -> list[str]:
    return [] if exchange is None or exchange.reply is None else [exchange.reply.text]


def until(session: Session, at: datetime) -> list[str]:
    """What rings at a time, after as many looks as it takes to read every log."""
    return [text for _ in range(10) for text in rings(session.tick(at))]


def state(folder: Path) -> State:
    return fold(read_log(folder).records, shipped_rules())


def test_a_timer_of_a_parked_job_rings_naming_the_machine() -> None:
    parked("tiller", "Quillmoor tiller", "start soak timer two hours")
    session = bench()
    assert until(session, MONDAY + timedelta(minutes=119)) == []
    assert until(session, MONDAY + timedelta(hours=2)) == ["Quillmoor tiller: soak timer."]
    assert until(session, MONDAY + timedelta(hours=2, seconds=59)) == []
    assert until(session, MONDAY + timedelta(hours=2, minutes=1)) == [
        "Quillmoor tiller: soak timer still rings."
    ]


def test_roger_is_kept_in_both_logs_and_both_chains_hold() -> None:
    folder = parked("tiller", "Quillmoor tiller", "start soak timer two hours")
    session = bench()
    at = MONDAY + timedelta(hours=2)
    until(session, at)
    exchange = session.typed("roger", at)
    assert exchange.reply is not None
    assert exchange.reply.text == "Quillmoor tiller: soak timer off."
    acknowledged = [r.event for r in exchange.records if r.event.kind == "elsewhere.acknowledged"]
    assert [event.model_dump()["kept"] for event in acknowledged] == [True]
    assert state(folder).timers == {}
    last = read_log(folder).records[-1]
    assert last.event == ev.TimerAcknowledged(name="soak")
    assert last.at == at
    assert state(folder).parked
    session.close()
    assert check_log(folder).problems == ()
    assert check_log(session.folder).problems == ()
    # Another bench, later, hears no more of it; nor does whoever resumes the job.
    other = bench("later")
    assert until(other, at + timedelta(hours=1)) == []
    resumed = resume_session(folder, at=at + timedelta(hours=1))
    assert resumed.tick(at + timedelta(hours=2)) is None


def test_roger_quiets_the_own_timer_too() -> None:
    parked("tiller", "Quillmoor tiller", "start soak timer two hours")
    session = bench()
    session.typed("start cure timer two hours", MONDAY)
    at = MONDAY + timedelta(hours=2)
    assert sorted(until(session, at)) == ["Cure timer rings.", "Quillmoor tiller: soak timer."]
    session.typed("roger", at)
    assert until(session, at + timedelta(hours=5)) == []


def test_a_job_that_another_program_works_at_takes_roger_in_and_is_quiet_too() -> None:
    folder = parked("tiller", "Quillmoor tiller", "start soak timer two hours")
    session = bench()
    at = MONDAY + timedelta(hours=2)
    with closing(resume_session(folder, at=at)) as other:
        until(session, at)
        assert other.next_deadline() == at
        exchange = session.typed("roger", at)
        assert exchange.reply is not None
        assert exchange.reply.text == "Quillmoor tiller: soak timer off."
        # It would ring there now: what was written beside it is taken in first.
        assert other.tick(at) is None
        assert other.state.timers == {}
        told = other.catch_up(at)
        assert told is not None
        assert [record.event for record in told.records] == [ev.TimerAcknowledged(name="soak")]
        assert told.reply is None
    assert check_log(folder).problems == ()


def test_a_log_that_another_program_does_not_let_go_of_is_left_alone_and_that_is_said(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("companion.session.other_timers.OTHERS_PATIENCE_SECONDS", 0.01)
    folder = parked("tiller", "Quillmoor tiller", "start soak timer two hours")
    session = bench()
    at = MONDAY + timedelta(hours=2)
    until(session, at)
    before = (folder / "log.jsonl").read_bytes()
    with LogWriter.beside(folder) as other, other.turn():
        exchange = session.typed("roger", at)
    assert exchange.reply is not None
    assert "off here only, that job's own log could not be written" in exchange.reply.text
    assert (folder / "log.jsonl").read_bytes() == before
    assert until(session, at + timedelta(hours=1)) == []


def test_the_other_log_is_open_for_writing_only_while_the_record_is_written() -> None:
    folder = parked("tiller", "Quillmoor tiller", "start soak timer two hours")
    session = bench()
    at = MONDAY + timedelta(hours=2)
    until(session, at)
    with LogWriter.open(folder):
        pass
    session.typed("roger", at)
    with LogWriter.open(folder) as writer:
        assert writer.next_seq == len(read_log(folder).records) + 1


def test_a_timer_started_and_parked_meanwhile_is_found() -> None:
    session = bench()
    assert until(session, MONDAY) == []
    parked("tiller", "Quillmoor tiller", "start soak timer five minutes")
    assert until(session, MONDAY + timedelta(minutes=5)) == ["Quillmoor tiller: soak timer."]


def test_what_was_acknowledged_by_resuming_the_job_rings_no_more() -> None:
    folder = parked("tiller", "Quillmoor tiller", "start soak timer five minutes")
    session = bench()
    at = MONDAY + timedelta(minutes=5)
    assert until(session, at) == ["Quillmoor tiller: soak timer."]
    resumed = resume_session(folder, at=at)
    resumed.tick(at)
    resumed.typed("roger", at)
    resumed.close()
    assert until(session, at + LOOK_AGAIN + timedelta(minutes=5)) == []


def test_a_question_is_put_again_when_a_timer_elsewhere_rang_before_the_answer() -> None:
    parked("tiller", "Quillmoor tiller", "start soak timer five minutes")
    session = bench()
    at = MONDAY + timedelta(minutes=4, seconds=59)
    session.typed("tag no oil", at)
    session.typed("clear tag fuel off", at)
    session.typed("tag fuel off", at)
    session.typed("clear tag fuel off", at)
    until(session, MONDAY + timedelta(minutes=5))
    session.typed("affirm", MONDAY + timedelta(minutes=5))
    assert session.state.tag("fuel off") is not None
    assert session.state.question is not None


def test_closed_jobs_and_timers_long_forgotten_are_quiet() -> None:
    parked("old", "Oddlestone chipper", "start soak timer five minutes")
    closed = job("closed", "Quillmoor tiller")
    closed.typed("start soak timer five minutes", MONDAY)
    closed.typed("close job", MONDAY)
    closed.close()
    assert until(bench(), MONDAY + timedelta(days=15)) == []
    assert until(bench("soon"), MONDAY + timedelta(days=13)) == ["Oddlestone chipper: soak timer."]


def test_a_damaged_log_elsewhere_disturbs_nobody() -> None:
    folder = parked("tiller", "Quillmoor tiller", "start soak timer five minutes")
    log = folder / "log.jsonl"
    log.write_bytes(log.read_bytes().replace(b"soak", b"sulk", 1))
    assert until(bench(), MONDAY + timedelta(hours=1)) == []


def test_two_programs_one_after_the_other(companion: Run, shop: dict[str, str]) -> None:
    """The real program twice: one parks a job with a timer of a second, the other hears it ring."""
    base = Path(shop[DATA_VARIABLE]) / "sessions"
    run = companion(
        "work", "--typed", "--quiet", "--machine", "quillmoor-tiller", "--out", base / "tiller",
        typed="start soak timer one second\npark job\n",
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    (timer,) = state(base / "tiller").timers.values()
    # The real clock of two real programs: the log is checked until the second is over.
    while datetime.now(UTC) <= timer.due:
        assert check_log(base / "tiller").problems == ()
    run = companion(
        "work", "--typed", "--quiet", "--machine", "brackwater-generator", "--out", base / "other",
        typed="read tags\nroger\nread tags\n",
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    assert "Quillmoor rear tine tiller: soak timer" in run.stdout
    assert state(base / "tiller").timers == {}
    assert check_log(base / "tiller").problems == ()
    assert check_log(base / "other").problems == ()
