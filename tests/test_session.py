"""A session told what happened: what the decision about an utterance gets to know from the job."""

from __future__ import annotations

import errno
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.log.reader import read_log
from companion.session.listening import ANSWER_WINDOW
from companion.session.opening import open_session, resume_session
from companion.session.session import Session
from companion.shelf.load import load_card, load_sheet

AT = datetime(2026, 4, 11, 9, 0, tzinfo=UTC)


@pytest.fixture
def session(tmp_path: Path) -> Session:
    return open_session(
        tmp_path / "job",
        at=AT,
        card=load_card("four-stroke-service"),
        sheet=load_sheet("quillmoor-tiller"),
        open_mic=True,
    )


def test_a_correction_is_known_to_be_of_the_last_value(session: Session) -> None:
    assert session.listening(AT).correcting is None
    session.typed("gap thirty thou", AT)
    assert session.listening(AT).correcting == "gap"
    assert session.listening(AT).correcting_unit == "thou"
    session.typed("added ten ounces of oil", AT)
    assert session.listening(AT).correcting == "oil"
    session.typed("disregard", AT)
    assert session.listening(AT).correcting is None


def test_a_call_sign_is_needed_but_not_in_the_moments_after_a_question(session: Session) -> None:
    assert session.listening(AT).call_sign_needed
    session.typed("tag no oil", AT)
    session.typed("clear tag no oil", AT)
    assert not session.listening(AT + ANSWER_WINDOW).call_sign_needed
    later = session.listening(AT + ANSWER_WINDOW + timedelta(seconds=1))
    assert later.call_sign_needed
    assert later.answer_awaited


def test_timers_ring_when_they_are_due_and_not_before(session: Session) -> None:
    session.typed("start soak timer two hours", AT)
    due = AT + timedelta(hours=2)
    assert session.next_deadline() == due
    assert session.tick(due - timedelta(seconds=1)) is None
    rung = session.tick(due)
    assert rung is not None
    assert rung.reply is not None
    assert "soak" in rung.reply.text.lower()


def test_what_cannot_be_written_is_not_acknowledged_and_not_believed(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    session.typed("gap thirty thou", AT)
    before = session.state
    (session.folder / "log.jsonl").unlink()
    monkeypatch.setattr("companion.log.writer.write_all", _full)
    with pytest.raises(CompanionError, match="no new one can be written anywhere; nothing more"):
        session.typed("gap thirty one thou", AT)
    assert session.state == before


def _full(*_: object) -> None:
    raise OSError(errno.ENOSPC, "No space left on device")


def test_a_resumed_session_is_the_one_that_was_left(session: Session) -> None:
    session.typed("tag no oil", AT)
    session.typed("gap thirty thou", AT)
    left = session.state
    session.close()
    again = resume_session(session.folder, at=AT + timedelta(days=3), open_mic=True)
    assert again.state.tags == left.tags
    assert again.state.readings == left.readings
    opened = again.open(AT + timedelta(days=3))
    assert opened.reply is not None
    assert opened.reply.text.lower().index("no oil") < 60
    again.close()


def test_a_torn_last_line_is_set_aside_told_once_and_costs_nothing_else(session: Session) -> None:
    session.typed("gap thirty thou", AT)
    session.close()
    log = session.folder / "log.jsonl"
    whole = len(read_log(session.folder).records)
    log.write_bytes(log.read_bytes() + b'{"v":1,"seq":99,"at":"2026')
    again = resume_session(session.folder, at=AT)
    assert any("torn" in trouble for trouble in again.state.troubles)
    again.close()
    assert resume_session(session.folder, at=AT).state.readings[0].event.value == 30
    assert len(read_log(session.folder).records) > whole


def test_a_typed_yes_to_no_question_is_answered(session: Session) -> None:
    exchange = session.typed("yes", AT)
    assert exchange.reply is not None
    assert "question" in exchange.reply.text
