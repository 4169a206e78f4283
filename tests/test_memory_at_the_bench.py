"""What a job knows from before, and what it does not take as it was called: a meter that goes back,
a fluid that was drained already."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from companion.audio.utterance import Utterance
from companion.files.sound_format import SAMPLE_RATE
from companion.job import events as ev
from companion.job.growing import ONLY_GROWS, only_grows
from companion.recognize.held import HeldRecognizer
from companion.session.session import Session
from tests.bench_job import AFFIRM, DISREGARD, NEGATIVE, SHEET, Job, added, correction, drained
from tests.bench_job import reading as read
from tests.sounds import speak, with_pauses
from tests.years import TILLER, YEARS, opened, typed

HOURS = "engine hours"


@pytest.fixture(scope="module")
def years(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Three jobs of a tiller that were closed; the next has yet to be opened."""
    data = tmp_path_factory.mktemp("data")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("BENCH_COMPANION_DATA", str(data))
        for at, calls in YEARS[:3]:
            typed(at, calls)
        yield data


def next_job(minutes: int) -> tuple[Session, str]:
    """Open the job after them; what is said then."""
    at = datetime(2026, 3, 30, 9, minutes, tzinfo=UTC)
    session = opened(at)
    said = session.open(at).reply
    assert said is not None
    return session, said.whole


def call(session: Session, *calls: str) -> str:
    """Type calls; what the last is answered with."""
    at, whole = datetime(2026, 3, 30, 12, 0, tzinfo=UTC), ""
    for each in calls:
        at += timedelta(seconds=30)
        reply = session.typed(each, at).reply
        whole = "" if reply is None else reply.whole
    return whole


def hours_of(job: Job) -> list[str]:
    return [str(f.event.value) for f in job.state.effective(job.state.readings)]


# --- what was left, in one sentence --------------------------------------------------------------
def test_opening_a_job_tells_in_one_sentence_what_matters_from_before(years: Path) -> None:
    session, said = next_job(0)
    session.close()
    assert (
        "From before: follow up carburetor, still needed drive belt, "
        "gap was low at twenty six thou." in said
    )


def test_a_machine_that_nobody_knows_opens_without_it(years: Path) -> None:
    at = datetime(2026, 3, 30, 9, 30, tzinfo=UTC)
    session = opened(at, sheet="tarnfield-mower")
    reply = session.open(at).reply
    session.close()
    assert reply is not None
    assert "From before" not in reply.whole


# --- a meter only counts up ----------------------------------------------------------------------
def test_engine_hours_lower_than_last_year_are_asked_about_and_not_recorded(years: Path) -> None:
    session, _ = next_job(1)
    asked = call(session, "negative", "engine hours 89 hours")
    assert asked.startswith(
        "Engine hours: the last was ninety eight hours, and it only counts up. Record engine hours"
    )
    assert call(session, "no") == "Not recorded."
    assert call(session, "engine hours 112 hours").startswith("Engine hours, one hundred twelve")
    assert [fact.event.value for fact in session.state.readings] == [112]
    session.close()


def test_the_same_is_asked_of_what_was_heard(years: Path) -> None:
    session, _ = next_job(2)
    recognizer = HeldRecognizer()
    recognizer.listen_for(session.grammar)
    session.recognizer = recognizer
    sound = with_pauses(speak("engine hours fifty hours", "slt"))
    at = datetime(2026, 3, 30, 13, 0, tzinfo=UTC)
    exchange = session.hear(Utterance(sound, 0.0, len(sound) / SAMPLE_RATE), at)
    assert exchange.reply is not None
    assert "ninety eight hours, and it only counts up" in exchange.reply.whole
    assert call(session, "yes").startswith("Engine hours, fifty")
    # It points at what was heard, whose sound is kept.
    (fact,) = session.state.readings
    assert fact.event.heard == next(r.seq for r in exchange.records if r.event == exchange.heard)
    session.close()


def test_a_new_meter_is_affirmed_and_the_next_reading_goes_by_it() -> None:
    job = Job().call(read(HOURS, "98", "hour")).call(read(HOURS, "2", "hour"))
    assert job.asked is not None
    assert job.asked.about == "cannot-be"
    assert hours_of(job.call(AFFIRM)) == ["98", "2"]
    assert hours_of(job.call(read(HOURS, "3", "hour"))) == ["98", "2", "3"]


def test_what_was_called_instead_is_taken_and_the_odd_value_is_not() -> None:
    job = Job().call(read(HOURS, "98", "hour"), read(HOURS, "89", "hour"))
    assert hours_of(job.call(correction("99"))) == ["98", "99"]
    job.call(read(HOURS, "12", "hour"), drained("4"))
    assert hours_of(job) == ["98", "99"]
    assert job.asked is None or job.asked.about != "cannot-be"


def test_a_correction_is_held_against_the_reading_before_the_one_it_corrects() -> None:
    job = Job().call(read(HOURS, "98", "hour"), read(HOURS, "120", "hour"), correction("99"))
    assert hours_of(job) == ["98", "99"]
    job.call(correction("90"))
    assert job.asked is not None
    assert job.asked.about == "cannot-be"
    assert hours_of(job.call(AFFIRM)) == ["98", "90"]


def test_what_was_disregarded_says_nothing() -> None:
    job = Job().call(read(HOURS, "980", "hour"), DISREGARD, read(HOURS, "98", "hour"))
    assert hours_of(job) == ["98"]


def test_minutes_are_held_against_hours() -> None:
    job = Job().call(read(HOURS, "2", "hour"), read(HOURS, "100", "minute"))
    assert job.asked is not None
    assert hours_of(job.call(NEGATIVE, read(HOURS, "150", "minute"))) == ["2", "150"]


def test_more_hours_than_have_passed_are_asked_about() -> None:
    job = Job().call(read(HOURS, "98", "hour")).wait(days=2).call(read(HOURS, "980", "hour"))
    assert job.asked is not None
    assert "not so much time has passed" in job.question
    assert hours_of(job.call(NEGATIVE).wait(days=60).call(read(HOURS, "980", "hour"))) == [
        "98",
        "980",
    ]


def test_a_sheet_marks_other_measures_that_only_grow() -> None:
    counter = {"measure": "gap", "unit": "thou", "only_grows": True}
    others = [each for each in SHEET["reading"] if each["measure"] != "gap"]
    job = Job({**SHEET, "reading": [counter, *others]})
    assert only_grows(job.state, "gap")
    job.call(read("gap", "30", "thou"), read("gap", "29", "thou"))
    assert job.asked is not None
    # Elsewhere a gap may shrink.
    assert (
        Job(SHEET).call(read("gap", "0.8", "millimeter"), read("gap", "0.7", "millimeter")).asked
        is None
    )


def test_every_measure_in_the_table_has_its_reason() -> None:
    assert HOURS in ONLY_GROWS
    assert all(len(why.split()) > 5 for why in ONLY_GROWS.values())


# --- drained twice -------------------------------------------------------------------------------
ALREADY = "Oil was drained already, and none was added since."


def test_a_fluid_drained_twice_with_nothing_added_between_is_remarked_on() -> None:
    job = Job(SHEET).call(drained("18"))
    assert "already" not in job.said
    assert ALREADY in job.call(drained("2")).said
    # It is recorded all the same.
    assert len(job.state.fluids) == 2
    assert "already" not in job.call(added("20"), drained("18")).said


def test_another_fluid_and_a_correction_are_no_second_draining() -> None:
    job = Job(SHEET).call(drained("18"), drained("30", fluid="fuel"))
    assert "already" not in job.said
    assert "already" not in Job(SHEET).call(drained("18"), correction("17")).said
    assert "already" not in Job(SHEET).call(drained("18"), DISREGARD, drained("17")).said


def test_it_may_have_been_another_job_that_drained_it(years: Path) -> None:
    at = datetime(2026, 5, 1, 9, 0, tzinfo=UTC)
    typed(at, ("drained 18 ounces of oil", "close job", "affirm"))
    later = at + timedelta(days=3)
    session = opened(later)
    session.open(later)
    said = session.typed("drained 2 ounces of oil", later + timedelta(minutes=1)).reply
    session.close()
    assert said is not None
    assert "Oil was drained already three days ago, and none was added since." in said.whole
    assert isinstance(session.state.fluids[-1].event, ev.FluidMoved)
    assert session.state.machine_name in (None, TILLER)
