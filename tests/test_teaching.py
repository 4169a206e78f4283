"""A phrase that failed twice and was then said in a known form is offered, once, as a way."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.audio.utterance import Utterance
from companion.enroll.ways_file import WaysFile
from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import load_grammar
from companion.job.events import Answered, AnyEvent, Asked, FluidMoved, Heard
from companion.job.record import Record
from companion.log.reader import read_log
from companion.recognize.choose import choose
from companion.session.exchange import Exchange
from companion.session.opening import open_session, resume_session
from companion.session.session import Session
from companion.session.teaching import REMEMBERED, SOON, Teaching
from tests.sounds import speak, with_pauses

AT = datetime(2026, 4, 11, 9, 0, tzinfo=UTC)
ASKED = "Shall I take fed her as added?"


class Bench:
    """Somebody who types calls, ten seconds apart."""

    def __init__(self, folder: Path) -> None:
        self.at = AT
        self.ways = WaysFile(None, folder / "voices" / "ways.toml")
        self.session: Session = open_session(folder / "job", at=AT, own_ways=self.ways)

    def call(self, *texts: str, after: timedelta = timedelta(seconds=10)) -> str:
        exchange: Exchange | None = None
        for text in texts:
            self.at += after
            exchange = self.session.typed(text, self.at)
        assert exchange is not None
        return "" if exchange.reply is None else exchange.reply.text

    def failed_twice(self) -> None:
        self.call("fed her 20 ounces of oil", "fed her 20 ounces of oil")


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def test_a_way_is_offered_affirmed_kept_and_taken_from_then_on(bench: Bench) -> None:
    bench.failed_twice()
    assert bench.call("added 20 ounces of oil") == f"Added twenty ounces of oil. {ASKED}"
    assert "from now on" in bench.call("affirm")
    assert [way.own for way in bench.ways.read()] == ["fed her"]
    assert bench.call("fed her 5 ounces of oil").startswith("Added five ounces of oil.")
    events = [record.event for record in read_log(bench.session.folder).records]
    asked = next(event for event in events if isinstance(event, Asked))
    assert (asked.about, asked.own, asked.plain) == ("own-way", "fed her", "added")
    assert any(isinstance(event, Answered) and event.answer == "affirm" for event in events)
    assert [e.action for e in events if isinstance(e, FluidMoved)] == ["added", "added"]


def test_what_is_named_stands_in_the_log(bench: Bench) -> None:
    bench.call("oil twenty ounces")
    heard = bench.session.state.last_heard
    assert heard is not None
    assert heard.event.take == ("added", "drained", "oil level full")


def test_a_negative_is_remembered_for_the_session_and_through_a_restart(bench: Bench) -> None:
    bench.failed_twice()
    bench.call("added 20 ounces of oil")
    assert bench.call("negative") == "Not taken."
    bench.failed_twice()
    assert ASKED not in bench.call("added 20 ounces of oil")
    folder = bench.session.folder
    bench.session.close()
    bench.session = resume_session(folder, at=bench.at, own_ways=bench.ways)
    bench.failed_twice()
    assert ASKED not in bench.call("added 20 ounces of oil")
    assert bench.ways.read() == ()


def test_once_is_not_enough_and_later_is_too_late(bench: Bench) -> None:
    bench.call("fed her 20 ounces of oil")
    assert ASKED not in bench.call("added 20 ounces of oil")
    bench.call("fed her 20 ounces of oil")
    late = SOON + timedelta(seconds=1)
    assert ASKED not in bench.call("added 20 ounces of oil", after=late)


def test_it_may_have_failed_of_something_else_before(bench: Bench) -> None:
    bench.call("fed her 5 ounces of fuel", "roger", "fed her 20 ounces of oil")
    assert ASKED in bench.call("added 20 ounces of oil")


def test_only_the_very_next_call_is_compared(bench: Bench) -> None:
    bench.failed_twice()
    bench.call("drive belt worn")
    assert ASKED not in bench.call("added 20 ounces of oil")


def test_any_other_call_takes_the_place_of_the_question(bench: Bench) -> None:
    bench.failed_twice()
    bench.call("added 20 ounces of oil")
    assert "Drive belt worn" in bench.call("drive belt worn")
    assert bench.ways.read() == ()
    assert bench.call("fed her 20 ounces of oil").startswith("Say again")


@pytest.mark.parametrize(
    ("failed", "known"),
    [
        ("fixed carburetor", "repaired carburetor"),
        ("tag sump bare", "tag no oil"),
        ("fine to start", "clear to start"),
        ("step finished now then", "step done"),
    ],
)
def test_what_opens_or_shuts_the_start_is_never_offered(
    bench: Bench, failed: str, known: str
) -> None:
    bench.call(failed, failed)
    assert "Shall I take" not in bench.call(known)


def test_a_question_that_is_open_comes_first(bench: Bench) -> None:
    bench.call("tag no oil")
    bench.call("mag coil busted", "mag coil busted")
    assert "Clear tag" in bench.call("clear tag no oil")
    assert "Shall I take" not in bench.call("spec for gap")


def test_a_file_that_is_damaged_meanwhile_is_left_alone_and_the_way_holds_for_the_session(
    bench: Bench,
) -> None:
    bench.failed_twice()
    bench.call("added 20 ounces of oil")
    bench.ways.path.parent.mkdir(parents=True)
    bench.ways.path.write_text("[[way]\n")
    assert "For this session only" in bench.call("affirm")
    assert bench.ways.path.read_text() == "[[way]\n"
    assert bench.call("fed her 5 ounces of oil").startswith("Added five ounces")


def test_a_session_without_ways_offers_none(tmp_path: Path) -> None:
    session = open_session(tmp_path / "job", at=AT)
    for text in ("fed her 20 ounces of oil",) * 2:
        session.typed(text, AT)
    exchange = session.typed("added 20 ounces of oil", AT)
    assert exchange.reply is not None
    assert "Shall I take" not in exchange.reply.text


def test_a_way_is_learned_by_voice(tmp_path: Path) -> None:
    """Spoken, through the recognizer: its free draft is what failed, and what it hears then is held
    to the way too."""
    ways = WaysFile(None, tmp_path / "ways.toml")
    session = open_session(tmp_path / "job", at=AT, recognizer=choose("whisper"), own_ways=ways)
    at = AT

    def said(text: str) -> tuple[Heard, str]:
        nonlocal at
        at += timedelta(seconds=10)
        sound = with_pauses(speak(text, "slt"))
        exchange = session.hear(Utterance(sound, 0.0, len(sound) / SAMPLE_RATE), at)
        assert exchange.heard is not None
        return exchange.heard, "" if exchange.reply is None else exchange.reply.text

    for _ in range(2):
        heard, answer = said("treated her with two quarts of oil")
        assert heard.outcome == "say-again"
        assert "added" in heard.take
        assert answer.startswith("Say again. I take: added")
    _, answer = said("added two quarts of oil")
    assert answer.startswith("Added two quarts of oil. Shall I take")
    assert answer.endswith("as added?")
    said("affirm")
    assert [way.plain for way in ways.read()] == ["added"]
    heard, answer = said("treated her with three quarts of oil")
    assert heard.outcome == "record"
    assert answer.startswith("Added three quarts of oil.")


SAID = ("fed her 20 ounces of oil", "gapped it thirty", "", "the dog wants out")


@given(
    st.lists(
        st.one_of(
            st.builds(
                Heard,
                text=st.sampled_from(SAID),
                engine=st.just("typed"),
                confidence=st.just(1.0),
                call_confidence=st.just(1.0),
                outcome=st.sampled_from(("record", "ask", "say-again", "ignore")),
            ),
            st.builds(Answered, answer=st.sampled_from(("affirm", "negative"))),
            st.just(Asked(about="doubt", heard=1)),
            st.just(Asked(about="own-way", own="fed her", plain="added", heard=1)),
        ),
        max_size=2 * REMEMBERED,
    )
)
def test_what_is_recalled_at_once_is_what_would_have_been_taken_in(events: list[AnyEvent]) -> None:
    grammar = load_grammar()
    at_once, one_by_one = Teaching(()), Teaching(())
    records = [Record(seq, AT, event) for seq, event in enumerate(events, start=1)]
    at_once.recall(records, grammar)
    for record in records:
        one_by_one.take_in((record,), grammar)
    assert vars(at_once) == vars(one_by_one)
