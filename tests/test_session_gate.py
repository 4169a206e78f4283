"""Tags and the start gate from typed call to log, over restarts and ringing timers."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

from companion.job import events as ev
from companion.log.reader import read_log
from companion.session.opening import open_session, resume_session
from companion.session.session import Session

NINE = datetime(2024, 3, 4, 9, 0, tzinfo=UTC)


def said(session: Session, *calls: str, at: datetime = NINE) -> tuple[str, str]:
    """Tone and words of the answer to the last of these calls."""
    reply = [session.typed(call, at) for call in calls][-1].reply
    assert reply is not None
    return reply.tone, reply.whole


def kinds(session: Session, kind: type[ev.Event]) -> list[ev.Event]:
    """What the log on disk holds of one kind."""
    return [r.event for r in read_log(session.folder).records if isinstance(r.event, kind)]


def tags(session: Session) -> list[str]:
    return [tag.tag for tag in session.state.tags]


def test_typed_yes_is_an_affirm_and_clears_one_tag_only(tmp_path: Path) -> None:
    session = open_session(tmp_path / "s", at=NINE)
    said(session, "tag fuel off", "tag blocked up", "clear tag fuel off", "yes")
    assert tags(session) == ["blocked up"]
    assert said(session, "yes") == ("not-understood", "No question is open.")
    assert tags(session) == ["blocked up"]
    session.close()


def test_a_yes_after_a_timer_rang_is_asked_for_again(tmp_path: Path) -> None:
    session = open_session(tmp_path / "s", at=NINE)
    said(session, "start soak timer one minute", "tag fuel off")
    later = NINE + timedelta(seconds=59)
    said(session, "clear tag fuel off", at=later)
    assert session.tick(later + timedelta(seconds=2)) is not None
    tone, _ = said(session, "yes", at=later + timedelta(seconds=3))
    assert tone == "question"
    assert tags(session) == ["fuel off"]
    said(session, "yes", at=later + timedelta(seconds=5))
    assert tags(session) == []
    session.close()


def test_a_yes_after_a_restart_clears_and_starts_nothing(tmp_path: Path) -> None:
    session = open_session(tmp_path / "s", at=NINE)
    said(session, "tag fuel off", "clear tag fuel off")
    session.close()
    session = resume_session(tmp_path / "s", at=NINE)
    said(session, "yes")
    assert tags(session) == ["fuel off"]
    said(session, "clear tag fuel off", "yes", "clear to start")
    session.close()
    session = resume_session(tmp_path / "s", at=NINE)
    said(session, "yes")
    assert kinds(session, ev.StartAffirmed) == []
    session.close()


def test_running_against_a_tag_warns_at_once_and_is_logged_after_a_restart_too(
    tmp_path: Path,
) -> None:
    session = open_session(tmp_path / "s", at=NINE)
    said(session, "removed guard")
    session.close()
    session = resume_session(tmp_path / "s", at=NINE)
    tone, text = said(session, "engine running")
    assert tone == "warning"
    assert text.startswith("Stop the engine. This tag hangs: guard off.")
    assert [event.against for event in kinds(session, ev.EngineRunning)] == [("guard off",)]
    session.close()
    session = resume_session(tmp_path / "s", at=NINE)
    reply = session.open(NINE).reply
    assert reply is not None
    assert reply.tone == "warning"
    assert reply.text.startswith("The engine was called running, with guard off tagged.")
    session.close()


def test_parked_and_closed_jobs_keep_their_tags_until_each_is_affirmed(tmp_path: Path) -> None:
    session = open_session(tmp_path / "s", at=NINE)
    said(session, "disconnected battery", "loosened handle bolt", "close job", "affirm", "yes")
    session.close()
    session = resume_session(tmp_path / "s", at=NINE)
    assert tags(session) == ["battery off", "bolts loose"]
    tone, text = said(session, "clear to start")
    assert tone == "warning"
    assert "handle bolt was loosened" in text
    said(session, "hooked up battery", "affirm", "tightened handle bolt", "affirm")
    assert tags(session) == []
    said(session, "clear to start", "affirm")
    assert len(kinds(session, ev.StartAffirmed)) == 1
    session.close()
