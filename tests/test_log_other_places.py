"""Sessions outside the data folder, and what a machine read in all of them."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.job import events as ev
from companion.log.machine_before import SESSIONS_READ, machine_before
from companion.log.other_places import LIST_NAME, list_other_place
from companion.log.sessions import session_folders, sessions_folder
from companion.log.writer import LogWriter
from tests.logs import MACHINE, MONDAY, Bench, fluid, reading


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(tmp_path / "data"))
    return tmp_path / "data"


def job(folder: Path, *readings: ev.AnyEvent, days: int = 0) -> Path:
    bench = Bench(folder, start=MONDAY + timedelta(days=days), clips=False)
    bench.open(machine=MACHINE)
    for event in readings:
        bench.call("a call", event)
    bench.writer.close()
    return folder


def gap(value: str) -> ev.ReadingRecorded:
    return reading("gap", value, "thou", verdict="in")


def test_a_session_put_elsewhere_is_among_the_shops(tmp_path: Path, data: Path) -> None:
    inside = job(sessions_folder() / "inside")
    outside = job(tmp_path / "outside")
    for folder in (inside, outside, outside):
        list_other_place(folder)
    assert session_folders() == [inside, outside]
    # The one inside needs no line, and the other no second.
    listed = (data / LIST_NAME).read_text().splitlines()
    assert [json.loads(line)["path"] for line in listed] == [str(outside)]


def test_what_is_gone_is_passed_over_and_so_are_lines_that_say_nothing(
    tmp_path: Path, data: Path
) -> None:
    outside = job(tmp_path / "outside")
    data.mkdir()
    gone = json.dumps(str(tmp_path / "gone"))
    (data / LIST_NAME).write_text(f'{gone}\n42\n"relative"\n"\\u0000"\n"/cut sho')
    list_other_place(outside)
    assert session_folders() == [outside]


def test_a_list_that_cannot_be_written_is_told_in_one_sentence(tmp_path: Path, data: Path) -> None:
    data.mkdir()
    (data / LIST_NAME).mkdir()
    with pytest.raises(CompanionError, match="will not know of"):
        list_other_place(job(tmp_path / "outside"))


def test_the_last_reading_of_each_measure_and_only_what_counts(tmp_path: Path) -> None:
    job(sessions_folder() / "a", gap("31"), reading("play", "9", "thou", verdict="unknown"))
    folder = sessions_folder() / "b"
    bench = Bench(folder, start=MONDAY + timedelta(days=30), clips=False)
    bench.open(machine=MACHINE)
    bench.call("gap", gap("29"))
    wrong = bench.writer.next_seq + 1
    bench.call("gap", gap("36"))
    bench.call("disregard", ev.Disregarded(record=wrong))
    bench.call("added", fluid("added", "2", "ounce"))
    bench.writer.close()
    found = machine_before("QUILLMOOR tiller", MONDAY + timedelta(days=60)).readings
    assert [(each.measure, str(each.value), each.session) for each in found] == [
        ("gap", "29", "b"),
        ("play", "9", "a"),
    ]
    assert machine_before("another machine", MONDAY + timedelta(days=60)).readings == ()


def test_what_comes_later_is_not_earlier() -> None:
    job(sessions_folder() / "a", gap("31"))
    job(sessions_folder() / "b", gap("29"), days=30)
    (found,) = machine_before("Quillmoor tiller", MONDAY + timedelta(days=30)).readings
    assert str(found.value) == "31"
    assert machine_before("Quillmoor tiller", MONDAY).readings == ()


def test_a_session_that_cannot_be_read_hides_no_other() -> None:
    job(sessions_folder() / "good", gap("31"))
    log = job(sessions_folder() / "torn", gap("29"), days=3) / "log.jsonl"
    log.write_bytes(log.read_bytes().replace(b'"29"', b'"28"'))
    LogWriter.create(sessions_folder() / "empty").close()
    (found,) = machine_before("Quillmoor tiller", MONDAY + timedelta(days=60)).readings
    assert str(found.value) == "31"


def test_only_the_latest_sessions_are_looked_through() -> None:
    job(sessions_folder() / "oldest", reading("play", "9", "thou", verdict="unknown"))
    for number in range(SESSIONS_READ):
        job(sessions_folder() / f"later-{number}", gap("30"), days=number + 1)
    found = machine_before("Quillmoor tiller", MONDAY + timedelta(days=60)).readings
    assert [each.measure for each in found] == ["gap"]
