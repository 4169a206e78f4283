"""The bench while somebody writes beside it on a page: it knows, says so, and judges by it."""

from __future__ import annotations

import os
import queue
import re
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from companion.files.disk import lock_for_writing
from companion.job import events as ev
from companion.job.folding.evolve import fold
from companion.live.happenings import Line
from companion.live.loop import LiveLoop
from companion.log.cannot_record import LogBusy
from companion.log.check import check_log
from companion.log.reader import read_log
from companion.log.writer import LogWriter
from companion.session.exchange import Exchange
from companion.session.opening import open_session, resume_session
from companion.session.session import Session
from companion.shelf.load import load_card, load_sheet
from companion.shelf.rules import shipped_rules
from companion.speak.voice import SilentVoice, VoiceUnavailable
from companion.speak.wording import Reply
from tests.logs import fluid, reading

AT = datetime(2026, 4, 11, 9, 0, tzinfo=UTC)


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    with closing(
        open_session(
            tmp_path / "job",
            at=AT,
            card=load_card("four-stroke-service"),
            sheet=load_sheet("quillmoor-tiller"),
        )
    ) as opened:
        yield opened


def on_the_page(session: Session, *events: ev.AnyEvent) -> None:
    """Record this beside the bench."""
    with LogWriter.beside(session.folder) as page:
        page.append(events, AT)


def last(session: Session, kind: type[ev.Event]) -> int:
    """Number of the last record of a kind."""
    records = read_log(session.folder).records
    return next(record.seq for record in reversed(records) if isinstance(record.event, kind))


def said(exchange: Exchange | None) -> str:
    assert exchange is not None
    assert exchange.reply is not None
    return exchange.reply.whole


def assert_one_log(session: Session) -> None:
    """What the bench believes is what the log says."""
    assert fold(read_log(session.folder).records, shipped_rules()) == session.state
    assert check_log(session.folder).problems == ()


# --- what is told ---------------------------------------------------------------------------------
def test_a_corrected_reading_is_told_once_shown_and_kept(session: Session) -> None:
    session.typed("gap forty thou", AT)
    session.typed("affirm", AT)
    wrong = last(session, ev.ReadingRecorded)
    assert session.catch_up(AT) is None
    on_the_page(session, reading("gap", "30", "thou", verdict="in", corrects=wrong))
    told = session.catch_up(AT)
    assert said(told) == "Changed on the page: gap, thirty, three zero, thou."
    assert told is not None
    assert [record.event.kind for record in told.records] == ["reading", "said"]
    assert session.catch_up(AT) is None
    assert_one_log(session)


@pytest.mark.parametrize(
    ("events", "sentence"),
    [
        (
            (reading("gap", "40", "thou", verdict="high", beyond="9"),),
            "Added on the page: gap, forty, four zero, thou, high by nine.",
        ),
        ((ev.TagHung(tag="no oil", by="voice"),), "Tag hung on the page: no oil."),
        (
            (fluid("added", "10", "ounce"), ev.TagHung(tag="fuel off", by="voice")),
            "Added on the page: added ten ounces of oil. Tag hung: fuel off.",
        ),
        (
            tuple(ev.PartNeeded(part="shear pin", count=n) for n in (1, 2, 3, 4)),
            "Added on the page: shear pin, one needed. Shear pin, two needed. And two more.",
        ),
    ],
)
def test_whatever_changes_what_counts_is_told_in_a_short_sentence(
    session: Session, events: tuple[ev.AnyEvent, ...], sentence: str
) -> None:
    on_the_page(session, *events)
    assert said(session.catch_up(AT)).startswith(sentence)
    assert_one_log(session)


def test_what_changes_nothing_is_shown_and_not_said(session: Session) -> None:
    on_the_page(session, ev.NoteKept(text="the owner comes at five", draft=False))
    told = session.catch_up(AT)
    assert told is not None
    assert told.reply is None
    assert [record.event.kind for record in told.records] == ["note"]


def test_what_was_set_aside_is_named(session: Session) -> None:
    session.typed("need two shear pins", AT)
    session.typed("follow up carburetor", AT)
    on_the_page(
        session,
        ev.Disregarded(record=last(session, ev.PartNeeded)),
        ev.Disregarded(record=last(session, ev.FollowUpRecorded)),
    )
    told = said(session.catch_up(AT))
    assert told == "Set aside on the page: shear pin, two needed. Follow up carburetor."
    assert_one_log(session)


def test_it_takes_nothing_from_an_answer_that_is_still_being_said(session: Session) -> None:
    session.typed("engine running", AT)
    left = session.state.unsaid
    assert left
    on_the_page(session, ev.PartNeeded(part="shear pin", count=1))
    told = session.catch_up(AT)
    assert told is not None
    assert told.reply is not None
    assert told.reply.text == "Added on the page: shear pin, one needed."
    assert session.state.unsaid == left


def test_a_tag_hung_beside_an_engine_that_runs_stops_it(session: Session) -> None:
    session.typed("engine running", AT)
    on_the_page(session, ev.TagHung(tag="guard off", by="voice"))
    told = said(session.catch_up(AT))
    assert "Stop the engine" in told
    assert "guard off" in told


# --- what is judged by it -------------------------------------------------------------------------
def test_a_call_is_decided_by_what_was_corrected_just_before_it(session: Session) -> None:
    session.typed("gap forty thou", AT)
    session.typed("affirm", AT)
    wrong = last(session, ev.ReadingRecorded)
    on_the_page(session, reading("gap", "30", "thou", verdict="in", corrects=wrong))
    right = last(session, ev.ReadingRecorded)
    exchange = session.typed("read back gap", AT)
    assert "thirty, three zero, thou" in said(exchange)
    assert "forty" not in said(exchange)
    # Its own records come after, and "correction" means what stands now.
    assert exchange.records[0].seq == right + 1
    session.typed("correction thirty one thou", AT)
    corrected = read_log(session.folder).records[last(session, ev.ReadingRecorded) - 1].event
    assert isinstance(corrected, ev.ReadingRecorded)
    assert corrected.corrects == right
    # It is told all the same, once there is time.
    assert "Changed on the page: gap" in said(session.catch_up(AT))
    assert_one_log(session)


def test_a_tag_that_was_hung_beside_it_keeps_the_start_shut(tmp_path: Path) -> None:
    session = open_session(tmp_path / "job", at=AT, sheet=load_sheet("quillmoor-tiller"))
    session.typed("oil level full", AT)
    session.typed("clear to start", AT)
    assert session.state.question is not None
    on_the_page(session, ev.TagHung(tag="guard off", by="voice"))
    exchange = session.typed("affirm", AT)
    assert "Do not start" in said(exchange)
    assert not any(isinstance(record.event, ev.StartAffirmed) for record in exchange.records)
    session.close()


def test_what_was_checked_for_a_start_and_is_so_no_more_is_read_out_again(tmp_path: Path) -> None:
    session = open_session(tmp_path / "job", at=AT, sheet=load_sheet("quillmoor-tiller"))
    session.typed("oil level full", AT)
    session.typed("clear to start", AT)
    on_the_page(session, ev.Disregarded(record=last(session, ev.LevelRead)))
    exchange = session.typed("affirm", AT)
    assert not any(isinstance(record.event, ev.StartAffirmed) for record in exchange.records)
    assert session.state.question is not None
    session.typed("affirm", AT)
    assert session.state.start_affirmed is not None
    session.close()


def test_a_timer_that_somebody_else_quieted_rings_no_more(session: Session) -> None:
    session.typed("start soak timer two hours", AT)
    on_the_page(session, ev.TimerAcknowledged(name="soak"))
    assert session.tick(AT + timedelta(hours=2)) is None
    assert session.state.timers == {}


def test_a_session_taken_up_knows_what_the_page_wrote_meanwhile(session: Session) -> None:
    session.typed("park job", AT)
    session.close()
    with LogWriter.beside(session.folder) as page:
        page.append([ev.TagHung(tag="guard off", by="voice")], AT)
        again = resume_session(session.folder, at=AT)
        page.append([ev.PartNeeded(part="shear pin", count=1)], AT)
        assert "Guard off" in said(again.open(AT))
        assert "shear pin" in said(again.catch_up(AT))
        assert_one_log(again)
        again.close()


def test_a_clip_has_the_number_of_the_record_that_names_it(session: Session) -> None:
    before = session.writer.next_seq
    on_the_page(session, ev.PartNeeded(part="shear pin", count=1))
    exchange = session.typed("note the cable is frayed", AT)
    assert exchange.records[0].seq == before + 1
    assert {record.event.heard for record in exchange.records[1:]} == {before + 1}
    assert check_log(session.folder).ok


# --- what goes wrong ------------------------------------------------------------------------------
def test_what_a_killed_page_left_torn_is_set_aside_and_kept_in_the_log(session: Session) -> None:
    with (session.folder / "log.jsonl").open("ab") as log:
        log.write(b'{"v":1,"seq":')
    told = session.catch_up(AT)
    assert told is not None
    assert told.reply is None
    (trouble,) = (record.event for record in told.records)
    assert isinstance(trouble, ev.Trouble)
    assert "log.torn-1" in trouble.what
    assert read_log(session.folder).recovered is None
    assert_one_log(session)


def test_a_log_that_is_busy_costs_no_catching_up_and_no_call_in_silence(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("companion.log.writer.lock_for_writing", _impatient)
    on_the_page(session, ev.PartNeeded(part="shear pin", count=1))
    with LogWriter.beside(session.folder) as page, page.turn():
        assert session.catch_up(AT) is None
        before = session.state
        with pytest.raises(LogBusy, match="does not come free"):
            session.typed("gap thirty thou", AT)
        assert session.state == before
    assert "shear pin" in said(session.catch_up(AT))


def _impatient(descriptor: int, patience: float = 0.0) -> bool:
    return lock_for_writing(descriptor)


@pytest.mark.parametrize("harm", ["deleted", "replaced", "cut short"])
def test_a_log_that_is_gone_is_told_within_a_second_and_nothing_is_written_to_it(
    session: Session, harm: str
) -> None:
    folder = session.folder
    log = session.folder / "log.jsonl"
    if harm == "deleted":
        log.unlink()
    elif harm == "replaced":
        (session.folder / "new").write_bytes(log.read_bytes())
        os.replace(session.folder / "new", log)
    else:
        os.truncate(log, 40)
    before = log.read_bytes() if log.exists() else None
    told = session.catch_up(AT)
    assert re.match(f"The log was .*{harm}.* the job goes on in a new log", said(told))
    assert session.typed("gap thirty thou", AT).records
    assert (log.read_bytes() if log.exists() else None) == before
    assert session.folder == folder.with_name("job-2")
    assert_one_log(session)


# --- the live loop --------------------------------------------------------------------------------
class Listener(SilentVoice):
    """Notes what was said."""

    def __init__(self) -> None:
        super().__init__(VoiceUnavailable("none"))
        self.said: list[str] = []

    def say(self, reply: Reply) -> None:
        self.said.append(reply.text)


class Quiet(queue.SimpleQueue):  # type: ignore[type-arg]
    """Where nothing happens until the loop has waited for it once."""

    waited = 0

    def get(self, block: bool = True, timeout: float | None = None) -> object:
        self.waited += 1
        if self.waited == 1:
            raise queue.Empty
        return super().get(block, timeout)


def test_the_loop_tells_of_it_while_nothing_is_said(session: Session) -> None:
    voice, shown = Listener(), list[Exchange]()
    loop = LiveLoop(session, voice, shown.append, clock=lambda: AT)
    loop.happenings = Quiet()
    loop.happenings.put(Line("park job"))
    on_the_page(session, ev.PartNeeded(part="shear pin", count=1))
    # The opening itself comes after it; what is told, after the opening.
    loop.run()
    assert voice.said.index("Added on the page: shear pin, one needed.") == len(voice.said) - 2
    kinds = [record.event.kind for exchange in shown for record in exchange.records]
    assert "part.needed" in kinds


def test_what_came_during_the_last_call_is_told_before_the_loop_ends(session: Session) -> None:
    voice, shown = Listener(), list[Exchange]()
    loop = LiveLoop(session, voice, shown.append, clock=lambda: AT)
    loop.happenings.put(Line("park job"))
    session.typed("gap thirty thou", AT)
    on_the_page(session, ev.PartNeeded(part="shear pin", count=1))
    loop.run()
    assert voice.said[-1] == "Added on the page: shear pin, one needed."


def test_a_call_while_another_program_holds_the_log_is_asked_for_again(
    session: Session, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("companion.log.writer.lock_for_writing", _impatient)
    voice = Listener()
    loop = LiveLoop(session, voice, lambda _: None, clock=lambda: AT)
    with LogWriter.beside(session.folder) as page, page.turn():
        loop.take(Line("gap thirty thou"))
    assert voice.said == ["The log is held by another program, say it again."]
    assert "end that program" in capsys.readouterr().err
    loop.take(Line("gap thirty thou"))
    assert voice.said[-1].startswith("Gap, thirty")
