"""Looking a job over after it: what was misheard is put right, and nothing is lost."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from companion.job import events as ev
from companion.job.folding.evolve import fold
from companion.log.check import check_log
from companion.log.line import LOG_NAME
from companion.log.reader import read_log
from companion.log.summaries import summarize
from companion.log.writer import LogWriter
from companion.report.handover import render_handover
from companion.report.log_lines import log_lines
from companion.report.page import render_report
from companion.review.reviewer import Outcome, Reviewer, open_review
from companion.session.opening import open_session, resume_session
from companion.shelf.load import load_card, load_sheet
from companion.shelf.rules import shipped_rules
from tests.test_report_page import parse

MONDAY = datetime(2026, 4, 13, 9, 0, tzinfo=UTC)
TUESDAY = MONDAY + timedelta(days=1)

CALLED = (
    "gap thirty thou",
    "compression one twenty p s i",
    "correction one ten p s i",
    "removed belt guard",
    "installed belt guard",
    "affirm",
    "removed drive belt",
    "fuel line leaking",
    "drained eighteen ounces of oil",
    "added eighteen ounces of oil",
    "oil level full",
    "affirm",
    "need two shear pins",
    "used one spark plug",
    "follow up carburetor",
    "note the cable is frayed at the lever",
    "intake clearance six thou",
    "disregard",
    "tag fuel off",
    "start soak timer two hours",
    "blah blubber",
    "engine running",
    "engine stopped",
)
"""What is called at the bench on Monday, a minute apart."""


@pytest.fixture(scope="module")
def monday(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("shop") / "monday"
    session = open_session(folder, at=MONDAY, sheet=load_sheet("quillmoor-tiller"))
    for minute, call in enumerate(CALLED, start=1):
        session.typed(call, MONDAY + timedelta(minutes=minute))
    session.close()
    return folder


class Review(Reviewer):
    """A review by Rosa on Tuesday."""

    def said(self, call: str) -> int:
        """Number of the record of what was heard."""
        return next(
            record.seq
            for record in self.records
            if isinstance(record.event, ev.Heard) and record.event.text == call
        )

    def fact(self, call: str) -> int:
        """Number of what the call recorded."""
        heard = self.said(call)
        return next(
            record.seq
            for record in self.records
            if isinstance(record.event, ev.Correctable) and record.event.heard == heard
        )

    def put(self, record: int | str, text: str, *, affirmed: bool = False) -> Outcome:
        """Correct a call, or a record, to what was really said."""
        number = record if isinstance(record, int) else self.said(record)
        return self.correct(number, text, by="Rosa", why="misheard", at=TUESDAY, affirmed=affirmed)

    def drop(self, record: int | str, *, affirmed: bool = False) -> Outcome:
        """Set a call or a record aside."""
        number = record if isinstance(record, int) else self.said(record)
        return self.set_aside(number, by="Rosa", why="", at=TUESDAY, affirmed=affirmed)

    @property
    def tags(self) -> list[str]:
        return [tag.tag for tag in self.state.tags]

    def read(self, measure: str) -> list[str]:
        """What counts of a measure, with its verdict."""
        return [
            f"{fact.event.value} {fact.event.unit} {fact.event.verdict}"
            for fact in self.state.effective(self.state.readings)
            if fact.event.measure == measure
        ]


@pytest.fixture
def review(monday: Path, tmp_path: Path) -> Iterator[Review]:
    folder = tmp_path / "monday"
    shutil.copytree(monday, folder)
    reviewer = open_review(folder)
    reviewer.__class__ = Review
    assert isinstance(reviewer, Review)
    yield reviewer
    reviewer.close()
    assert check_log(folder).ok
    assert fold(read_log(folder).records, shipped_rules()) == reviewer.state


def events(outcome: Outcome) -> list[str]:
    return [record.event.kind for record in outcome.records]


# --- readings -----------------------------------------------------------------------------------
def test_a_reading_is_corrected_to_what_was_really_said_and_judged_anew(review: Review) -> None:
    outcome = review.put("gap thirty thou", "gap 13 thou")
    assert (outcome.kind, outcome.text) == (
        "recorded",
        "Corrected: gap, thirteen, one three, thou. Low by fifteen.",
    )
    assert events(outcome) == ["reviewed", "reading"]
    assert review.read("gap") == ["13 thou low"]


def test_it_tells_who_when_and_why_and_keeps_what_was_there(review: Review) -> None:
    first = review.fact("gap thirty thou")
    review.put("gap thirty thou", "gap thirteen thou")
    told = review.state.reviews[-1]
    assert (told.event.by, told.event.why, told.at) == ("Rosa", "misheard", TUESDAY)
    assert (told.event.judgement, told.event.said) == ("corrected", "gap thirteen thou")
    assert review.state.superseded[first] == "corrected"
    lines = "\n".join(log_lines(review.folder))
    assert "gap 30 thou: in (wanted 28 to 31 thou)  (from 2)  [corrected]" in lines
    assert "Rosa on record 2: corrected: “gap thirteen thou” (misheard)" in lines


def test_it_stands_in_the_place_and_at_the_time_of_what_it_corrects(review: Review) -> None:
    first = review.fact("gap thirty thou")
    review.put("gap thirty thou", "gap thirteen thou")
    gap = review.state.effective(review.state.readings)[0]
    assert (gap.place, gap.at) == (first, MONDAY + timedelta(minutes=1))


def test_a_correction_is_corrected_again(review: Review) -> None:
    review.put("gap thirty thou", "gap thirteen thou")
    review.put("gap thirty thou", "gap forty thou")
    review.put(review.fact("gap thirty thou"), "gap twenty nine thou")
    assert review.read("gap") == ["29 thou in"]


def test_what_was_said_ten_times_over_is_asked_about_first(review: Review) -> None:
    outcome = review.put("gap thirty thou", "gap three hundred thou")
    assert outcome.kind == "needs-affirm"
    assert "ten times the usual" in outcome.text
    assert review.read("gap") == ["30 thou in"]
    assert review.put("gap thirty thou", "gap three hundred thou", affirmed=True).kind == "recorded"
    assert review.read("gap") == ["300 thou high"]


def test_a_reading_that_was_really_something_else_stands_where_the_reading_stood(
    review: Review,
) -> None:
    reading = review.fact("gap thirty thou")
    review.put("gap thirty thou", "drained thirteen ounces of oil")
    assert review.read("gap") == []
    drained = review.state.effective(review.state.fluids)[0]
    assert (drained.event.action, drained.place) == ("drained", reading)


def test_what_a_correction_at_the_bench_made_of_a_call_stands(review: Review) -> None:
    outcome = review.put("compression one twenty p s i", "compression one thirty p s i")
    assert outcome.text.startswith("Corrected: compression one thirty p s i.")
    assert outcome.text.endswith("A later call took back what it recorded, and that stands.")
    assert events(outcome) == ["reviewed"]
    assert review.read("compression") == ["110 psi in"]


def test_the_correction_at_the_bench_may_itself_have_been_misheard(review: Review) -> None:
    outcome = review.put("correction one ten p s i", "correction one hundred p s i")
    assert outcome.kind == "recorded"
    assert review.read("compression") == ["100 psi in"]
    refused = review.put("gap thirty thou", "correction thirteen thou")
    assert refused == Outcome(
        "refused", "Give the whole call that was said, such as gap thirteen thou."
    )


def test_a_correction_that_was_none_lets_count_again_what_it_was_taken_to_correct(
    review: Review,
) -> None:
    outcome = review.put("correction one ten p s i", "tire pressure fifteen p s i")
    assert outcome.kind == "recorded"
    assert review.read("compression") == ["120 psi in"]
    assert [reading[:6] for reading in review.read("tire pressure")] == ["15 psi"]
    other = review.put("correction one ten p s i", "compression one oh five p s i")
    assert other.kind == "recorded"
    assert review.read("tire pressure") == []
    assert review.read("compression") == ["120 psi in", "105 psi in"]


def test_a_value_that_several_calls_made_is_corrected_by_its_number(review: Review) -> None:
    review.put(review.fact("compression one twenty p s i"), "compression one oh five p s i")
    assert review.read("compression") == ["105 psi in"]


def test_a_call_that_was_not_understood_is_put_in_its_place(review: Review) -> None:
    heard = review.said("blah blubber")
    outcome = review.put("blah blubber", "tire pressure fifteen p s i")
    assert outcome.text.startswith("Corrected: tire pressure, fifteen")
    read = review.state.effective(review.state.readings)[-1]
    assert (read.place, read.event.heard) == (heard, heard)


def test_parts_and_follow_ups_are_corrected_as_well(review: Review) -> None:
    said = [
        review.put("need two shear pins", "need three shear pins").text,
        review.put("used one spark plug", "used two spark plugs").text,
        review.put("follow up carburetor", "follow up muffler").text,
    ]
    assert said == [
        "Corrected: shear pin, three needed.",
        "Corrected: spark plug, two used.",
        "Corrected: follow up muffler.",
    ]


# --- what holds the start -----------------------------------------------------------------------
def test_a_correction_that_adds_a_danger_is_taken_at_once(review: Review) -> None:
    outcome = review.put("need two shear pins", "removed shear pin")
    assert outcome.text == "Corrected: removed shear pin. Tag hung: drive open."
    assert "drive open" in review.tags


def test_a_danger_that_would_come_off_needs_an_affirm_to_what_that_means(review: Review) -> None:
    outcome = review.put("fuel line leaking", "need one fuel line")
    assert outcome == Outcome(
        "needs-affirm",
        "This would no longer hold the start. Fuel line was called leaking and not called mended. "
        "Confirm: fuel line, one needed?",
    )
    assert review.state.effective(review.state.findings)
    taken = review.put("fuel line leaking", "need one fuel line", affirmed=True)
    assert events(taken) == ["reviewed", "question.asked", "question.answered", "part.needed"]
    assert not review.state.effective(review.state.findings)


def test_a_tag_comes_down_only_with_its_question(review: Review) -> None:
    asked = review.put("removed drive belt", "need one drive belt")
    assert asked.kind == "needs-affirm"
    assert asked.text.endswith("Clear tag belt off?")
    assert "belt off" in review.tags
    taken = review.put("removed drive belt", "need one drive belt", affirmed=True)
    assert events(taken) == [
        "reviewed",
        "question.asked",
        "question.answered",
        "part.needed",
        "question.asked",
        "question.answered",
        "tag.cleared",
    ]
    assert "belt off" not in review.tags
    assert "Tag cleared: belt off." in taken.text


def test_a_tag_that_came_down_for_work_that_was_not_done_hangs_again(review: Review) -> None:
    assert "guard off" not in review.tags
    outcome = review.put("installed belt guard", "need one belt guard")
    assert outcome.kind == "recorded"
    assert "guard off" in review.tags


def test_a_level_that_was_really_low_brings_the_tag_back(review: Review) -> None:
    assert "no oil" not in review.tags
    assert review.put("oil level full", "oil level low").text == (
        "Corrected: oil level low. Tag hung: no oil."
    )


def test_what_was_put_right_before_anybody_knew_of_it_still_wants_its_affirm(
    review: Review,
) -> None:
    review.put("blah blubber", "connected plug wire")
    assert review.put("gap thirty thou", "disconnected plug wire").text == (
        "Corrected: disconnected plug wire. Tag hung: plug wire off."
    )


def test_an_affirm_that_was_none_is_taken_back_with_the_tag_that_it_took_down(
    review: Review,
) -> None:
    outcome = review.put("affirm", "negative")
    assert outcome.kind == "recorded"
    assert "guard off" in review.tags


def test_what_came_to_a_tag_after_it_was_hung_is_named_before_it_comes_off(review: Review) -> None:
    bench = resume_session(review.folder, at=TUESDAY)
    bench.typed("installed drive belt", TUESDAY)
    bench.close()
    assert review.put("removed drive belt", "removed reverse belt").kind == "recorded"
    asked = review.put("removed drive belt", "removed drive belt")
    assert asked.text == (
        "This would no longer hold the start. Tag belt off: reverse belt was removed. "
        "Confirm: removed drive belt? Drive belt was removed. Affirm if that is over. "
        "Clear tag belt off?"
    )


def test_a_tag_that_hangs_again_only_to_come_down_is_told_to_be_down(review: Review) -> None:
    assert review.put("affirm", "installed belt guard").kind == "needs-affirm"
    taken = review.put("affirm", "installed belt guard", affirmed=True)
    assert [kind for kind in events(taken) if kind.startswith("tag")] == ["tag.hung", "tag.cleared"]
    assert "Tag cleared: guard off." in taken.text
    assert "Tag hung" not in taken.text


def test_affirmed_without_having_been_asked_asks(review: Review) -> None:
    outcome = review.put("fuel line leaking", "fuel line cracked", affirmed=True)
    assert outcome.kind == "needs-affirm"
    assert review.put("fuel line leaking", "fuel line cracked", affirmed=True).kind == "recorded"


def test_what_the_bench_called_meanwhile_changes_what_affirm_would_mean(review: Review) -> None:
    asked = review.put("removed drive belt", "need one drive belt")
    bench = resume_session(review.folder, at=TUESDAY)
    bench.typed("removed reverse belt", TUESDAY)
    bench.close()
    again = review.put("removed drive belt", "need one drive belt", affirmed=True)
    assert again.kind == "needs-affirm"
    assert again.text != asked.text
    assert "Clear tag" not in again.text
    taken = review.put("removed drive belt", "need one drive belt", affirmed=True)
    assert taken.kind == "recorded"
    assert "belt off" in review.tags


def test_a_page_may_affirm_exactly_what_it_showed(review: Review) -> None:
    asked = review.put("fuel line leaking", "fuel line cracked")

    def affirm(read: str) -> Outcome:
        return review.correct(
            review.said("fuel line leaking"),
            "fuel line cracked",
            by="Rosa",
            why="",
            at=TUESDAY,
            affirmed=True,
            read=read,
        )

    assert affirm("something else").kind == "needs-affirm"
    assert affirm(asked.text).kind == "recorded"


def test_other_sessions_of_the_machine_are_looked_at_before_anything_comes_off_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from companion.log.identity import Identity
    from companion.log.machine_watch import MachineWatch
    from companion.log.sessions import new_session_folder

    monkeypatch.setenv("BENCH_COMPANION_DATA", str(tmp_path))
    sheet = load_sheet("quillmoor-tiller")
    folders = [new_session_folder(MONDAY + timedelta(hours=n), sheet.name) for n in (0, 1)]
    sessions = [
        open_session(
            folder,
            at=MONDAY + timedelta(hours=n),
            sheet=sheet,
            machine=MachineWatch(Identity(sheet.name), folder),
        )
        for n, folder in enumerate(folders)
    ]
    sessions[0].typed("gap thirty thou", MONDAY + timedelta(hours=3))
    sessions[1].typed("removed muffler", MONDAY + timedelta(hours=2))
    for session in sessions:
        session.close()
    with open_review(folders[0]) as first:
        heard = next(r.seq for r in first.records if isinstance(r.event, ev.Heard))
        outcome = first.correct(heard, "installed muffler", by="Rosa", why="", at=TUESDAY)
        assert outcome.kind == "needs-affirm"
        assert "muffler" in outcome.text


# --- setting aside ------------------------------------------------------------------------------
def test_a_call_is_set_aside_as_by_disregard(review: Review) -> None:
    outcome = review.drop("gap thirty thou")
    assert outcome.text == "Disregarded: gap, thirty, three zero, thou."
    assert review.read("gap") == []
    assert review.drop("gap thirty thou").kind == "refused"


def test_a_correction_that_is_set_aside_lets_what_it_corrected_count_again(
    review: Review,
) -> None:
    corrected = review.put("gap thirty thou", "gap thirteen thou").records[-1].seq
    said = review.drop(corrected).text
    assert said.endswith("This counts again: gap, thirty, three zero, thou.")
    assert review.read("gap") == ["30 thou in"]


def test_what_was_set_aside_counts_again_by_correcting_it(review: Review) -> None:
    review.drop("gap thirty thou")
    review.put("gap thirty thou", "gap thirty thou")
    assert review.read("gap") == ["30 thou in"]


def test_a_fact_that_the_bench_disregarded_comes_back_only_when_it_is_named_itself(
    review: Review,
) -> None:
    call = "intake clearance six thou"
    assert "that stands" in review.put(call, "intake clearance five thou").text
    assert review.read("intake clearance") == []
    review.put(review.fact(call), "intake clearance five thou")
    assert review.read("intake clearance") == ["5 thou in"]


def test_a_disregard_that_was_none_lets_count_again_what_it_set_aside(review: Review) -> None:
    review.put("disregard", "roger")
    assert review.read("intake clearance") == ["6 thou in"]


def test_a_tag_hung_by_a_misheard_call_needs_its_affirm(review: Review) -> None:
    asked = review.drop("tag fuel off")
    assert asked.kind == "needs-affirm"
    assert asked.text.endswith("Clear tag fuel off?")
    review.drop("tag fuel off", affirmed=True)
    assert "fuel off" not in review.tags


def test_a_timer_is_set_aside_and_runs_no_more(review: Review) -> None:
    assert review.drop("start soak timer two hours").kind == "recorded"
    assert not review.state.timers


def test_what_is_done_at_the_moment_is_not_done_or_undone_afterwards(review: Review) -> None:
    assert review.drop("engine running") == Outcome(
        "refused",
        "That the engine runs is not set aside: call it stopped at the bench instead.",
    )
    outcome = review.put("engine running", "gap thirty one thou")
    assert "What it did at the bench stays: engine running" in outcome.text
    outcome = review.put("gap thirty thou", "engine running")
    assert events(outcome) == ["reviewed", "disregarded"]
    assert not review.state.engine_running


# --- marks, notes, sign-off ---------------------------------------------------------------------
def test_marks_change_nothing_and_the_last_counts(review: Review) -> None:
    heard = review.said("gap thirty thou")
    before = review.state.readings
    assert review.wrong(heard, by="Rosa", why="a cough", at=TUESDAY).text == "Marked wrong."
    assert review.right(heard, by="Rosa", at=TUESDAY).text == "Marked right."
    assert review.state.readings == before
    assert [each.event.judgement for each in review.state.reviews] == ["wrong", "right"]


def test_a_note_is_confirmed_as_it_is_or_with_other_words(review: Review) -> None:
    call = "note the cable is frayed at the lever"
    outcome = review.note(
        review.said(call), "the cable is torn", by="Rosa", why="heard the clip", at=TUESDAY
    )
    assert (outcome.kind, outcome.text) == ("recorded", "Note confirmed.")
    (note,) = review.state.effective(review.state.notes)
    assert (note.event.text, note.event.draft) == ("the cable is torn", False)
    assert [fact.event.text for fact in review.state.notes] == [
        "the cable is frayed at the lever",
        "the cable is torn",
    ]
    empty = review.note(review.said(call), "  ", by="Rosa", why="", at=TUESDAY)
    assert empty == Outcome("refused", "A note without words is set aside instead.")
    no_note = review.note(review.said("gap thirty thou"), "x", by="Rosa", why="", at=TUESDAY)
    assert no_note == Outcome("refused", "That is no note that counts.")


def test_what_is_changed_after_the_sign_off_shows_as_changed_since(review: Review) -> None:
    review.put("gap thirty thou", "gap twenty nine thou")
    assert review.sign_off(by="Rosa", at=TUESDAY).text == "Signed off by Rosa."
    changed = review.put("gap thirty thou", "gap thirty one thou")
    assert [each.after_sign_off for each in review.state.reviews] == [False, True]
    assert review.state.after_sign_off(changed.records[-1].seq)
    assert [fact.event.by for fact in review.state.signed_off] == ["Rosa"]
    assert "; changed since)" in render_handover(review.folder)
    review.right(2, by="Rosa", at=TUESDAY)
    assert review.state.changed_since_sign_off == 1
    review.sign_off(by="Ned", at=TUESDAY)
    review.wrong(2, by="Rosa", why="", at=TUESDAY)
    assert review.state.changed_since_sign_off == 0
    assert "changed since" not in render_handover(review.folder)


# --- refusals -----------------------------------------------------------------------------------
def test_what_is_no_call_is_refused_in_one_sentence(review: Review) -> None:
    for record, text, why in (
        (999, "gap thirty thou", "Record 999 is not in this log"),
        (0, "gap thirty thou", "Record 0 is not in this log"),
        (1, "gap thirty thou", "Record 1 is of no call"),
        (4, "gap thirty thou", "Record 4 is of no call"),
        (2, "", "nothing was typed"),
        (2, "gap thirty p s i", "does not fit"),
        (2, "what a nice day", "That is no call as it stands"),
    ):
        outcome = review.put(record, text)
        assert outcome.kind == "refused"
        assert why in outcome.text
        assert outcome.text.count(". ") == 0
        assert outcome.records == ()
    assert review.right(2, by=" ", at=TUESDAY).kind == "refused"
    assert review.sign_off(by="", at=TUESDAY).kind == "refused"
    assert review.drop("blah blubber").kind == "refused"


def test_a_refusal_and_a_question_write_nothing(review: Review) -> None:
    before = (review.folder / LOG_NAME).read_bytes()
    review.put("gap thirty thou", "hello there")
    review.put("fuel line leaking", "fuel line cracked")
    assert (review.folder / LOG_NAME).read_bytes() == before


# --- beside the bench ---------------------------------------------------------------------------
def test_a_closed_job_is_reviewed_all_the_same(review: Review) -> None:
    bench = resume_session(review.folder, at=TUESDAY)
    for call in ("close job", "affirm"):
        bench.typed(call, TUESDAY)
    bench.close()
    review.put("gap thirty thou", "gap twenty nine thou")
    assert review.state.closed
    assert review.read("gap") == ["29 thou in"]


def test_two_pages_lose_nothing_and_the_second_sees_the_first(review: Review) -> None:
    with open_review(review.folder) as other:
        review.put("gap thirty thou", "gap twenty nine thou")
        outcome = other.right(review.said("gap thirty thou"), by="Ned", at=TUESDAY)
        assert outcome.kind == "recorded"
        assert other.state.effective(other.state.readings)[0].event.value == 29
        review.put("follow up carburetor", "follow up muffler")
    assert [each.event.by for each in review.state.reviews] == ["Rosa", "Ned", "Rosa"]


def test_at_the_bench_correction_and_disregard_do_not_mean_what_a_review_brought(
    review: Review,
) -> None:
    bench = resume_session(review.folder, at=TUESDAY)
    bench.typed("compression one oh five p s i", TUESDAY)
    bench.close()
    review.put("gap thirty thou", "gap twenty nine thou")
    bench = resume_session(review.folder, at=TUESDAY)
    bench.typed("correction ninety five p s i", TUESDAY)
    bench.typed("disregard", TUESDAY)
    bench.typed("correction one hundred p s i", TUESDAY)
    bench.close()
    review.right(2, by="Rosa", at=TUESDAY)
    assert review.read("gap") == ["29 thou in"]
    assert review.read("compression") == ["110 psi in", "100 psi in"]


def test_the_question_at_the_bench_stays_open(review: Review) -> None:
    bench = resume_session(review.folder, at=TUESDAY)
    bench.typed("clear tag fuel off", TUESDAY)
    bench.close()
    review.put("fuel line leaking", "fuel line cracked")
    review.put("fuel line leaking", "fuel line cracked", affirmed=True)
    question = review.state.question
    assert question is not None
    assert question.event.tag == "fuel off"


def test_what_the_bench_asks_about_just_now_is_answered_there(review: Review) -> None:
    bench = resume_session(review.folder, at=TUESDAY)
    heard = bench.typed("gap three hundred thou", TUESDAY).records[0].seq
    refused = review.put(heard, "gap thirty thou")
    assert refused.kind == "refused"
    assert "answer it there" in refused.text
    while bench.state.question is not None:
        bench.typed("negative", TUESDAY)
    assert review.put(heard, "gap thirty thou").kind == "recorded"
    bench.close()


# --- what follows from it -----------------------------------------------------------------------
def test_the_report_strikes_through_what_was_corrected_and_says_who_when_and_why(
    review: Review,
) -> None:
    review.put("gap thirty thou", "gap thirteen thou")
    review.note(
        review.said("note the cable is frayed at the lever"),
        "the cable is frayed at the lever",
        by="Rosa",
        why="",
        at=TUESDAY,
    )
    review.sign_off(by="Rosa", at=TUESDAY)
    review.put("follow up carburetor", "follow up muffler")
    page = parse(render_report(review.folder))
    rows = page.one("section", id="readings").one("tbody").all("tr")
    struck = [row.text() for row in rows if "gone" in row.attributes.get("class", "")]
    (gone,) = [row for row in struck if "30 thou" in row]
    assert "corrected by Rosa, 14 Apr" in gone
    assert "misheard" in gone
    (corrected,) = [row.text() for row in rows if "13 thou" in row.text()]
    assert "low" in corrected
    assert "13 Apr" in corrected
    notes = page.one("section", id="notes").text()
    assert notes.count("frayed at the lever") == 1
    assert "draft" not in notes
    assert "after sign-off" in page.text()
    assert "Signed off" in page.text()


def test_a_review_does_not_move_the_day_on_which_the_job_was_done(review: Review) -> None:
    before = summarize(review.folder)
    review.put("gap thirty thou", "gap thirteen thou")
    review.sign_off(by="Rosa", at=TUESDAY)
    after = summarize(review.folder)
    assert (after.last, after.status) == (before.last, before.status)
    assert after.records > before.records


def test_the_check_tells_of_a_review_of_nothing(tmp_path: Path) -> None:
    with LogWriter.create(tmp_path) as writer:
        writer.append(
            [
                ev.JobParked(),
                ev.Reviewed(record=7, by="Rosa", judgement="right"),
                ev.LevelRead(fluid="oil", level="full", corrects=9, reviewed=1),
                ev.Disregarded(record=1, restores=8),
            ],
            MONDAY,
        )
    assert check_log(tmp_path).problems == (
        "line 2 points at 7, which is no earlier record",
        "line 3 points at 9, which is no earlier record",
        "line 3 points at 1, which is no review before it",
        "line 4 points at 8, which is no earlier record",
    )


def test_a_log_without_a_review_is_written_as_ever(monday: Path) -> None:
    log = (monday / LOG_NAME).read_text()
    assert "reviewed" not in log


# --- with a card --------------------------------------------------------------------------------
def test_work_by_a_step_is_set_aside_by_its_own_number_and_the_step_stays_done(
    tmp_path: Path,
) -> None:
    folder = tmp_path / "with-card"
    session = open_session(
        folder,
        at=MONDAY,
        card=load_card("four-stroke-service"),
        sheet=load_sheet("quillmoor-tiller"),
    )
    session.open(MONDAY)
    for minute in range(6):
        if session.state.work:
            break
        for call in ("step done", "affirm"):
            session.typed(call, MONDAY + timedelta(minutes=minute))
    session.close()
    with open_review(folder) as reviewer:
        by_step = [fact for fact in reviewer.state.work if fact.event.by == "step"]
        assert by_step
        heard = by_step[0].event.heard
        assert heard is not None
        refused = reviewer.set_aside(heard, by="Rosa", why="", at=TUESDAY)
        assert refused.kind == "refused"
        assert "step" in refused.text
        asked = reviewer.set_aside(by_step[0].seq, by="Rosa", why="", at=TUESDAY)
        assert asked.kind == "needs-affirm"
        done = [name for name, mark in reviewer.state.steps.items() if mark.done]
        taken = reviewer.set_aside(by_step[0].seq, by="Rosa", why="", at=TUESDAY, affirmed=True)
        assert taken.kind == "recorded"
        assert [name for name, mark in reviewer.state.steps.items() if mark.done] == done
        assert by_step[0].seq in reviewer.state.superseded
