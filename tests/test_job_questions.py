"""Doubtful calls, answers, standing by."""

from __future__ import annotations

from decimal import Decimal

from companion.intent.intents import Note, SpecAsk, TagClear, TagHang
from companion.job import events as ev
from companion.job.answers import Nothing, SayAgain
from tests.bench_job import (
    AFFIRM,
    CLEAR_TO_START,
    DISREGARD,
    NEGATIVE,
    ROGER,
    Job,
    correction,
    drained,
    plain,
    reading,
    timer,
    work,
)

FIFTEEN = reading("gap", "15", "thou")
FIFTY = reading("gap", "50", "thou")


def values(job: Job) -> list[Decimal]:
    return [event.value for event in job.all(ev.ReadingRecorded)]


def test_a_doubtful_call_is_recorded_only_after_affirm() -> None:
    job = Job().doubt(FIFTEEN, FIFTY)
    assert values(job) == []
    assert job.asked is not None
    assert job.asked.about == "doubt"
    assert job.asked.candidates == (FIFTEEN, FIFTY)
    assert values(job.call(AFFIRM)) == [Decimal(15)]


def test_what_is_affirmed_points_at_what_was_heard_first() -> None:
    job = Job().doubt(FIFTEEN)
    heard_first = job.seq(ev.Heard)
    job.call(AFFIRM)
    assert job.last(ev.ReadingRecorded).heard == heard_first
    assert job.last(ev.Answered).heard == job.seq(ev.Heard)


def test_negative_asks_about_the_rival_and_then_to_say_it_again() -> None:
    job = Job().doubt(FIFTEEN, FIFTY)
    heard_first = job.seq(ev.Heard)
    job.call(NEGATIVE)
    assert job.asked is not None
    assert job.asked.candidates == (FIFTY,)
    job.call(NEGATIVE)
    assert job.answers == (Nothing("Say it again."),)
    assert values(job) == []
    job.doubt(FIFTEEN, FIFTY).call(NEGATIVE, AFFIRM)
    assert values(job) == [Decimal(50)]
    assert job.last(ev.ReadingRecorded).heard != heard_first


def test_another_call_takes_the_place_of_the_question() -> None:
    job = Job().doubt(FIFTEEN).call(FIFTY)
    assert job.last(ev.Answered).answer == "replaced"
    assert values(job) == [Decimal(50)]


def test_a_correction_of_a_doubtful_reading_does_not_touch_an_older_one() -> None:
    job = Job().call(reading("compression", "120", "psi")).doubt(FIFTEEN).call(correction("50"))
    last = job.last(ev.ReadingRecorded)
    assert (last.measure, last.value, last.corrects) == ("gap", Decimal(50), None)
    job.doubt(work("greased", "axle")).call(correction("50"))
    assert job.answers == (Nothing("Nothing was recorded: call it again."),)
    assert len(values(job)) == 2


def test_affirm_and_negative_with_no_question_open_change_nothing() -> None:
    for answer in (AFFIRM, NEGATIVE):
        job = Job().call(answer)
        assert (job.events, job.answers) == ((), (Nothing("No question is open."),))


def test_a_doubtful_affirm_decides_nothing_and_the_question_is_put_again() -> None:
    job = Job().call(TagHang(tag="no oil"), TagClear(tag="no oil")).doubt(AFFIRM, NEGATIVE)
    assert job.tags == ["no oil"]
    assert job.asked is not None
    assert job.asked.tag == "no oil"
    assert job.all(ev.Answered) == []
    assert Job().doubt(AFFIRM).answers == (Nothing("No question is open."),)


def test_a_doubtful_clear_tag_still_needs_its_own_affirm() -> None:
    job = Job().call(TagHang(tag="no oil")).doubt(TagClear(tag="no oil"))
    job.call(AFFIRM)
    assert job.tags == ["no oil"]
    assert job.asked is not None
    assert job.asked.about == "clear-tag"
    assert job.call(AFFIRM).tags == []


def test_yes_after_a_timer_rang_may_not_mean_the_question() -> None:
    job = Job().call(timer("soak", minutes=1), TagHang(tag="no oil")).wait(seconds=59)
    job.call(TagClear(tag="no oil")).wait(seconds=1).ring().call(AFFIRM)
    assert job.tags == ["no oil"]
    assert job.asked is not None
    assert job.call(ROGER, AFFIRM).tags == []


def test_yes_long_after_the_question_has_it_put_again() -> None:
    job = Job().call(CLEAR_TO_START).wait(minutes=3).call(AFFIRM)
    assert job.all(ev.StartAffirmed) == []
    assert len(job.call(AFFIRM).all(ev.StartAffirmed)) == 1


def test_a_question_does_not_outlive_a_restart() -> None:
    job = Job().call(TagHang(tag="no oil"), TagClear(tag="no oil")).resume().call(AFFIRM)
    assert job.tags == ["no oil"]


def test_say_again_repeats_word_for_word_and_leaves_the_question_open() -> None:
    assert Job().call(plain("say.again")).answers == (Nothing("Nothing was said yet."),)
    job = Job().doubt(FIFTEEN)
    said = job.last(ev.Said).text
    job.call(plain("say.again"))
    assert job.answers == (SayAgain((said,)),)
    assert values(job.call(AFFIRM)) == [Decimal(15)]


def test_standing_by_only_resume_and_roger_are_answered() -> None:
    job = Job().call(plain("standby"))
    for call in (
        FIFTEEN,
        drained("20"),
        AFFIRM,
        DISREGARD,
        plain("job.close"),
        SpecAsk(measure="gap"),
    ):
        job.call(call)
        assert (job.events, job.answers) == ((), ()), call
    assert job.doubt(FIFTEEN).events == ()
    job.call(plain("resume"), FIFTEEN)
    assert values(job) == [Decimal(15)]


def test_resume_while_listening_says_so() -> None:
    assert Job().call(plain("resume")).answers == (Nothing("Listening."),)


def test_a_spoken_note_keeps_its_clip_and_is_marked_a_draft() -> None:
    job = Job().call(Note(text="carb is gummed up"), clip="audio/3.flac")
    note = job.last(ev.NoteKept)
    assert (note.text, note.draft, note.clip) == ("carb is gummed up", True, "audio/3.flac")
    typed = Job().call(Note(text="carb is gummed up")).last(ev.NoteKept)
    assert (typed.draft, typed.clip) == (False, None)


def test_a_doubtful_note_keeps_the_clip_of_the_note_not_of_the_affirm() -> None:
    job = Job().doubt(FIFTEEN, Note(text="fifteen"), clip="audio/2.flac")
    job.call(NEGATIVE, clip="audio/5.flac").call(AFFIRM, clip="audio/8.flac")
    note = job.last(ev.NoteKept)
    assert (note.draft, note.clip) == (True, "audio/2.flac")
