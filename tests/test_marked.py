"""Calls of which it is known what was said: marked right or corrected in a review, or affirmed."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from companion.enroll.fit import FEWEST, ReadOut
from companion.enroll.marked import from_session, marked_calls, marked_lines
from companion.enroll.page import with_more
from companion.errors import CompanionError
from companion.grammar.compiled import load_grammar
from companion.handbook.units import to_si
from companion.intent.intents import Reading
from companion.job import events as ev
from companion.review.reviewer import open_review
from tests.conftest import Run, one_sentence
from tests.logs import MONDAY, Bench, reading, tone

TUESDAY = MONDAY + timedelta(days=1)


def gap(value: str) -> Reading:
    number, unit = to_si(Decimal(value), "thou")
    return Reading.model_validate(
        {
            "measure": "gap",
            "value": value,
            "unit": "thou",
            "si": {"value": float(number), "unit": unit},
        }
    )


@pytest.fixture
def heard(tmp_path: Path) -> tuple[Path, list[int]]:
    """A session with eight spoken calls: its folder, and their numbers."""
    folder = tmp_path / "spoken"
    bench = Bench(folder)
    bench.open()
    numbers = [
        bench.call(
            "gap thirty thou",
            reading("gap", "30", "thou", verdict="unknown"),
            sound=tone(pitch=300),
        ),
        bench.call(
            "oil level full", ev.LevelRead(fluid="oil", level="full"), sound=tone(pitch=310)
        ),
        bench.call(
            "gap fifty thou",
            ev.Asked(about="doubt", candidates=(gap("50"), gap("15"))),
            outcome="ask",
            sound=tone(pitch=320),
        ),
    ]
    bench.call("affirm", ev.Answered(answer="affirm"), sound=tone(pitch=330))
    asked = ev.Asked(about="doubt", candidates=(gap("60"), gap("16")))
    numbers.append(bench.call("gap sixty thou", asked, outcome="ask", sound=tone(pitch=340)))
    rival = ev.Asked(about="doubt", candidates=(gap("16"),), heard=numbers[-1])
    bench.call("negative", ev.Answered(answer="negative"))
    bench.happen(rival)
    bench.call("affirm", ev.Answered(answer="affirm"))
    numbers.append(bench.call("step done", sound=tone(pitch=350)))
    bench.call("note", ev.NoteKept(text="the cable is torn", draft=True))
    bench.writer.close()
    return folder, numbers


def test_what_is_known_is_what_was_marked_corrected_or_affirmed(
    heard: tuple[Path, list[int]],
) -> None:
    folder, (thirty, level, fifty, _, step) = heard
    assert [(call.said, call.known) for call in marked_calls(folder)] == [
        ("gap fifty thou", "affirmed")
    ]
    with open_review(folder) as review:
        review.correct(thirty, "gap 13 thou", by="Rosa", why="", at=TUESDAY)
        review.wrong(level, by="Rosa", why="", at=TUESDAY)
        review.right(level, by="Rosa", at=TUESDAY)
        review.right(step, by="Rosa", at=TUESDAY)
        review.wrong(step, by="Rosa", why="a door", at=TUESDAY)
    assert [(call.record, call.said, call.known) for call in marked_calls(folder)] == [
        (thirty, "gap thirteen thou", "corrected"),
        (level, "oil level full", "marked"),
        (fifty, "gap fifty thou", "affirmed"),
    ]
    assert all((folder / call.clip).is_file() for call in marked_calls(folder))
    first = marked_lines(folder)[0]
    assert first.endswith("gap thirteen thou  (heard “gap thirty thou”)  [corrected]")


def test_of_a_value_that_two_calls_made_neither_is_known_by_correcting_the_value(
    tmp_path: Path,
) -> None:
    folder = tmp_path / "spoken"
    bench = Bench(folder)
    bench.open()
    first = bench.call("gap thirty thou", reading("gap", "30", "thou", verdict="unknown")) + 1
    corrected = reading("gap", "31", "thou", verdict="unknown", corrects=first)
    second = bench.call("correction thirty one thou", corrected) + 1
    bench.writer.close()
    with open_review(folder) as review:
        for number in (first, second):
            review.correct(number, "gap thirteen thou", by="Rosa", why="", at=TUESDAY)
        assert marked_calls(folder) == ()
        review.correct(second - 1, "correction thirteen thou", by="Rosa", why="", at=TUESDAY)
    assert [call.said for call in marked_calls(folder)] == ["correction thirteen thou"]


def test_a_call_that_is_marked_wrong_after_its_affirm_is_not_known(
    heard: tuple[Path, list[int]],
) -> None:
    folder, numbers = heard
    with open_review(folder) as review:
        review.wrong(numbers[2], by="Rosa", why="", at=TUESDAY)
    assert marked_calls(folder) == ()


def test_too_few_are_said_so_in_one_sentence(
    heard: tuple[Path, list[int]], companion: Run, tmp_path: Path
) -> None:
    folder, _ = heard
    with pytest.raises(CompanionError, match="too few to know a voice by"):
        from_session(folder, load_grammar())
    run = companion("enroll", "Rosa", "--from", folder)
    assert "of 1 spoken calls" in one_sentence(run, 1)
    assert "no session" in one_sentence(companion("enroll", "Rosa", "--from", "nowhere"), 1).lower()
    shown = companion("log", "show", folder, "--marks")
    assert shown.stdout.strip().endswith("gap fifty thou  [affirmed]")


def test_a_page_is_read_from_a_session_and_each_recording_is_added_once(tmp_path: Path) -> None:
    folder = tmp_path / "spoken"
    bench = Bench(folder)
    bench.open()
    calls = [
        bench.call("oil level full", sound=tone(pitch=300 + 10 * each)) for each in range(FEWEST)
    ]
    calls.append(bench.call("greased frobnicator", sound=tone(pitch=200)))
    bench.writer.close()
    with open_review(folder) as review:
        for number in calls:
            review.right(number, by="Rosa", at=TUESDAY)
    page = from_session(folder, load_grammar())
    assert [one.said for one in page] == ["oil level full"] * FEWEST
    before = (ReadOut("roger", tone(pitch=100)), page[0])
    assert with_more(before, page) == (*before, *page[1:])
