"""A long answer is cut between its phrases: none of its pieces takes above eight seconds."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.job import events as ev
from companion.log.reader import read_log
from companion.session.exchange import Exchange
from companion.session.opening import open_session, resume_session
from companion.session.session import Session
from companion.shelf.load import load_card, load_sheet
from companion.speak.phrases import (
    ANSWER,
    CAUTION,
    FACT,
    LEFT,
    QUESTION,
    Phrase,
    Tone,
)
from companion.speak.pieces import LONGEST_SECONDS, joined, pieces, seconds_to_say
from companion.speak.speech import SpeechEngine

NINE = datetime(2026, 4, 11, 9, 0, tzinfo=UTC)

SENTENCES = (
    "Tag hung: no oil.",
    "Caution. Exhaust kills without a smell: outside only, away from doors and windows.",
    "Caution. Hot oil, coolant and exhaust burn: wear gloves, or let it cool.",
    "Step four. Drain the warm oil. Call how much came out.",
    "Drain timer, ten minutes.",
    "Six left. Drain oil; drain plug; air filter; drive belt; grease points; spark plug.",
    "Do not start. Tag no oil: oil was drained. Tag guard off: hung by a call. Not checked: leaks.",
)
PLACES = st.sampled_from((FACT, CAUTION, ANSWER, LEFT))
TONES: st.SearchStrategy[Tone] = st.sampled_from(("none", "recorded", "warning"))
PHRASES = st.lists(st.builds(Phrase, PLACES, TONES, st.sampled_from(SENTENCES)), min_size=1)


@given(PHRASES)
def test_the_pieces_say_every_phrase_once_and_in_order(phrases: list[Phrase]) -> None:
    cut = pieces(phrases)
    assert [phrase for piece in cut for phrase in piece] == phrases
    assert all(cut)
    for piece in cut:
        # A phrase by itself, a list say, may take longer, but nothing then stands with it.
        assert len(piece) == 1 or seconds_to_say(joined(piece)) <= LONGEST_SECONDS


@given(PHRASES)
def test_what_ends_in_a_question_is_never_cut(phrases: list[Phrase]) -> None:
    asked = [*phrases, Phrase(QUESTION, "question", "Clear tag no oil?")]
    assert pieces(asked) == (tuple(asked),)


def test_nothing_is_cut_that_is_short_enough() -> None:
    short = [Phrase(FACT, "recorded", SENTENCES[0]), Phrase(ANSWER, "none", SENTENCES[3])]
    assert pieces(short) == (tuple(short),)


def test_what_is_too_long_by_itself_is_cut_between_its_sentences() -> None:
    said = (
        "Seven to one for one u s ounce: zero point one four u s ounces of oil, four point two "
        "milliliters.",
        "Unusual: check the maker's ratio.",
    )
    cut = pieces([Phrase(ANSWER, "none", " ".join(said))])
    assert tuple(joined(piece) for piece in cut) == said
    # A caution stays whole: it is said even if a call comes before it.
    whole = Phrase(CAUTION, "none", " ".join(said))
    assert pieces([whole]) == ((whole,),)


@pytest.mark.parametrize("text", SENTENCES)
def test_how_long_a_text_takes_is_estimated_within_a_second(text: str) -> None:
    rendered = len(SpeechEngine().render(text)) / 16_000
    assert seconds_to_say(text) == pytest.approx(rendered, abs=1.0)


# --- in a session -------------------------------------------------------------------------------
@pytest.fixture
def session(tmp_path: Path) -> Session:
    return open_session(
        tmp_path / "job",
        at=NINE,
        card=load_card("four-stroke-service"),
        sheet=load_sheet("quillmoor-tiller"),
    )


def said(exchange: Exchange | None) -> str:
    assert exchange is not None
    assert exchange.reply is not None
    return exchange.reply.text


def the_rest(session: Session, at: datetime = NINE) -> list[str]:
    texts = []
    while session.more_to_say:
        assert session.next_deadline() == NINE
        texts.append(said(session.tick(at)))
    return texts


def cut_short(session: Session) -> Exchange:
    """An answer with a further piece that holds a caution, and then the step."""
    exchange = session.typed("engine running", NINE)
    assert said(exchange).startswith("Engine running. Caution. Exhaust kills without a smell")
    assert exchange.reply is not None
    assert [piece.text[:22] for piece in exchange.reply.rest] == ["Caution. Hair, sleeves"]
    return exchange


def test_the_pieces_of_an_answer_are_said_one_after_the_other(session: Session) -> None:
    exchange = cut_short(session)
    assert exchange.reply is not None
    assert session.more_to_say
    rest = the_rest(session)
    assert " ".join((exchange.reply.text, *rest)) == exchange.reply.whole
    assert not session.more_to_say
    assert session.next_deadline() is None


def test_each_piece_is_a_record_of_its_own_that_belongs_to_the_call(session: Session) -> None:
    heard = cut_short(session).records[0]
    the_rest(session)
    session.close()
    pieces_said = [
        r.event for r in read_log(session.folder).records if isinstance(r.event, ev.Said)
    ]
    first, second = pieces_said[-2:]
    assert (first.tone, first.goes_on, first.heard) == ("recorded", False, heard.seq)
    assert (second.tone, second.goes_on, second.heard) == ("none", True, heard.seq)
    assert [piece.text for piece in first.rest] == [second.text]


def test_say_again_repeats_all_of_the_pieces(session: Session) -> None:
    exchange = cut_short(session)
    assert exchange.reply is not None
    the_rest(session)
    again = session.typed("say again", NINE)
    assert again.reply is not None
    assert again.reply.whole == exchange.reply.whole
    # Asked for before the rest was said, it holds the rest, and nothing twice.
    once_more = session.typed("say again", NINE)
    assert once_more.reply is not None
    assert once_more.reply.whole == exchange.reply.whole


def test_a_call_that_comes_first_is_answered_first_and_then_the_cautions_are_said(
    session: Session,
) -> None:
    cut_short(session)
    answer = session.typed("gap thirty thou", NINE)
    assert answer.reply is not None
    assert answer.reply.whole.startswith("Gap, thirty")
    assert answer.reply.whole.count("Caution. Hair, sleeves and gloves") == 1
    the_rest(session)
    assert not session.more_to_say


def test_a_step_that_a_call_came_before_is_not_said_after_it(session: Session) -> None:
    # It does not run: nothing is warmed, and the next step makes it safe.
    for call in ("step done", "step done", "negative"):
        session.typed(call, NINE)
        the_rest(session)
    opened = session.typed("step done", NINE)
    assert opened.reply is not None
    assert opened.reply.rest, "the step has something to say after its tags"
    assert "Step" in opened.reply.rest[-1].text
    answer = session.typed("gap thirty thou", NINE)
    assert answer.reply is not None
    assert "Step" not in answer.reply.whole


def test_cautions_come_before_a_question_that_came_first(session: Session) -> None:
    session.typed("tag guard off", NINE)
    session.typed("engine stopped", NINE)
    session.typed("clear tag guard off", NINE)
    session.typed("affirm", NINE)
    cut_short(session)
    asked = session.typed("close job", NINE)
    assert asked.reply is not None
    assert asked.reply.rest == ()
    assert asked.reply.text.index("Hair, sleeves") < asked.reply.text.index("Close the job")
    assert asked.reply.text.endswith("?")


def test_what_is_no_call_takes_nothing_away(session: Session) -> None:
    cut_short(session)
    garbled = session.typed("flibber", NINE)
    assert garbled.reply is not None
    assert garbled.reply.text.startswith("Say again")
    lost = session.trouble("The microphone has stopped giving sound.", NINE)
    assert said(lost).startswith("The microphone has stopped")
    assert the_rest(session)[-1].startswith("Caution. Hair, sleeves")


def test_timers_ring_after_all_pieces_were_said(session: Session) -> None:
    session.typed("start soak timer one minute", NINE)
    later = NINE + timedelta(minutes=2)
    cut_short(session)
    assert said(session.tick(later)).startswith("Caution. Hair, sleeves")
    assert said(session.tick(later)) == "Soak timer rings."


def test_a_caution_left_unsaid_when_the_power_failed_is_said_on_resuming(session: Session) -> None:
    cut_short(session)
    session.close()
    resumed = resume_session(session.folder, at=NINE + timedelta(hours=1))
    opening = resumed.open(NINE + timedelta(hours=1))
    assert opening.reply is not None
    assert "Hair, sleeves" in opening.reply.whole
