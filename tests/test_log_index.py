"""The index over all sessions: what it lists and finds, and that it is never behind the logs."""

from __future__ import annotations

import shutil
import sqlite3
from datetime import timedelta
from pathlib import Path

import pytest

from companion.job import events as ev
from companion.log.index import SessionIndex
from companion.log.index_file import APPLICATION, INDEX_NAME, VERSION
from companion.log.other_places import list_other_place
from companion.log.sessions import sessions_folder
from companion.log.summaries import list_sessions
from companion.log.writer import LogWriter
from tests.logs import MACHINE, MONDAY, Bench, fluid, invented_job, reading


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(tmp_path / "data"))
    return tmp_path / "data"


def job(name: str, *events: ev.AnyEvent, days: int = 0, of: str = "Quillmoor tiller") -> Path:
    bench = Bench(sessions_folder() / name, start=MONDAY + timedelta(days=days), clips=False)
    bench.open(machine={**MACHINE, "name": of})
    for event in events:
        bench.call(f"a call in {name}", event)
    bench.writer.close()
    return bench.folder


def add(folder: Path, *events: ev.AnyEvent) -> None:
    with LogWriter.open(folder) as writer:
        writer.append(events, MONDAY + timedelta(days=30))


def test_sessions_are_listed_the_latest_first_as_the_logs_have_them() -> None:
    job("first", reading("gap", "30", "thou", verdict="in"))
    job("second", ev.TagHung(tag="no oil", by="voice"), ev.JobClosed(), days=1)
    with SessionIndex() as index:
        found = index.sessions()
    assert [(s.name, s.status, s.tags) for s in found.rows] == [
        ("second", "closed", ("no oil",)),
        ("first", "open", ()),
    ]
    assert [s.last for s in found.rows] == [s.last for s in list_sessions()]  # type: ignore[union-attr]
    assert found.total == 2


def test_sessions_are_found_by_name_machine_serial_and_job_a_page_at_a_time() -> None:
    for number in range(5):
        job(f"spring-{number}", days=number)
    job("other", of="Saltmere washer", days=9)
    with SessionIndex() as index:
        page = index.sessions("tiller spring", limit=2, offset=2)
        assert ([s.name for s in page.rows], page.total) == (["spring-2", "spring-1"], 5)
        assert index.sessions("wash").total == 1
        assert index.sessions("%").total == 0
        assert index.sessions(machine="saltmere WASHER").total == 1
        assert index.sessions(status="closed").total == 0


def test_what_was_said_is_found_with_the_number_of_its_record() -> None:
    invented_job(sessions_folder() / "tiller", clips=False)
    with SessionIndex() as index:
        (hit,) = index.search("frayed cable").rows
        assert hit.who == "note"
        assert hit.session.name == "tiller"
        assert [text for text, found in hit.snippet if found] == ["cable", "frayed"]
        assert "cable is frayed at the lever" in hit.words
        assert index.search('"frayed cable"').total == 0
        assert index.search("shear pin").total == index.search("SHEAR pins").total > 0
        assert index.search("carb").total == index.search("carburetor").total > 0
        assert index.search("shear pin", who=["said"]).total == 0
        assert index.search("shear", machine="Quillmoor tiller").total > 0
        assert index.search("shear", machine="another").total == 0


@pytest.mark.parametrize(
    "typed", ['"', "* OR", "a AND", "NEAR(", "words:", "'; --", "(", "^", "-x"]
)
def test_nothing_that_is_typed_is_an_operator(typed: str) -> None:
    invented_job(sessions_folder() / "tiller", clips=False)
    with SessionIndex() as index:
        assert index.search(typed).total == 0 or index.search("a").total > 0


def test_machines_stand_as_all_their_sessions_say() -> None:
    job(
        "first",
        ev.FindingRecorded(part="shear pin", condition="broken"),
        fluid("drained", "9", "ounce"),
    )
    job("second", ev.PartNeeded(part="shear pin", count=2), days=2)
    job("other", of="Saltmere washer", days=1)
    with SessionIndex() as index:
        tiller, washer = index.machines()
        assert (tiller.name, tiller.sessions, tiller.still_open) == ("Quillmoor tiller", 2, 1)
        assert washer.standing == ()
        assert tiller.standing == ("shear pin broken",)
        assert [m.name for m in index.machines("salt")] == ["Saltmere washer"]


def test_a_log_that_grew_or_went_shows_at_the_next_question(tmp_path: Path) -> None:
    first, second = job("first"), job("second", days=1)
    with SessionIndex() as index:
        assert [s.status for s in index.sessions().rows] == ["open", "open"]
        add(
            first,
            ev.Heard(
                text="choke stuck",
                engine="typed",
                confidence=1,
                call_confidence=1,
                outcome="record",
            ),
            ev.JobClosed(),
        )
        assert [(s.name, s.status) for s in index.sessions().rows] == [
            ("first", "closed"),
            ("second", "open"),
        ]
        assert index.refresh() == 0
        assert index.search("choke").total == 1
        shutil.move(second, tmp_path / "second")
        assert [s.name for s in index.sessions().rows] == ["first"]
        list_other_place(tmp_path / "second")
        assert index.sessions().total == 2


def test_a_log_that_cannot_be_read_is_listed_with_the_reason_and_the_rest_works() -> None:
    job("good", days=1)
    broken = job("broken", ev.JobParked())
    whole = (broken / "log.jsonl").read_bytes()
    (broken / "log.jsonl").write_bytes(whole.replace(b"a call", b"a cull", 1))
    (sessions_folder() / "foreign").mkdir()
    (sessions_folder() / "foreign" / "log.jsonl").write_text("Dear diary\n")
    with SessionIndex() as index:
        rows = index.sessions().rows
        assert rows[0].name == "good"
        why = {s.name: s.why or "" for s in rows if s.status == "unreadable"}
        assert set(why) == {"broken", "foreign"}
        assert "is damaged" in why["broken"]
        assert "is not a log of Bench Companion" in why["foreign"]
        (broken / "log.jsonl").write_bytes(whole)
        assert {s.name: s.status for s in index.sessions().rows} == {
            "good": "open",
            "broken": "parked",
            "foreign": "unreadable",
        }


def test_nobody_knows_how_a_machine_stands_of_which_a_log_cannot_be_read_or_is_gone() -> None:
    broken = job("broken", ev.JobClosed())
    gone = job("2026-03-02-1000-quillmoor-tiller", ev.JobClosed())
    job("whole", ev.JobClosed(), days=1)
    job("another-machine", ev.JobClosed(), of="Saltmere washer")
    log, kept = broken / "log.jsonl", gone / "log.jsonl"
    whole = log.read_bytes()

    def standing() -> dict[str, tuple[str, ...]]:
        with SessionIndex() as index:
            found = {row.name: row.standing for row in index.machines()}
            assert index.machine("quillmoor tiller").row.standing == found["Quillmoor tiller"]
            assert index.machine_row("quillmoor tiller").standing == found["Quillmoor tiller"]
        return found

    clear: dict[str, tuple[str, ...]] = {"Quillmoor tiller": (), "Saltmere washer": ()}
    assert standing() == clear
    log.write_bytes(whole.replace(b"a call", b"a cull", 1))
    assert standing() == clear | {"Quillmoor tiller": ("log unread",)}
    log.write_bytes(whole)
    assert standing() == clear
    kept.rename(kept.with_suffix(".away"))
    assert standing() == clear | {"Quillmoor tiller": ("log unread",)}


def test_an_index_that_is_broken_or_older_is_made_anew(data: Path) -> None:
    job("first", ev.JobParked())
    with SessionIndex() as index:
        assert index.sessions().total == 1
    for spoil in (
        b"no database at all, but long enough to be taken for the header of one" * 99,
        b"x",
    ):
        (data / INDEX_NAME).write_bytes(spoil)
        with SessionIndex() as index:
            assert index.sessions().total == 1
    older = sqlite3.connect(data / INDEX_NAME)
    older.execute("DROP TABLE said")
    older.execute("PRAGMA user_version = -1")
    older.close()
    with SessionIndex() as index:
        assert index.search("call").total == 1


def test_an_index_that_breaks_while_it_is_open_is_made_anew(data: Path) -> None:
    folder = job("first")
    with SessionIndex() as index:
        assert index.sessions().total == 1
        other = sqlite3.connect(data / INDEX_NAME)
        other.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        other.close()
        with (data / INDEX_NAME).open("r+b") as file:
            file.write(b"\xff" * 40_000)
        add(folder, ev.JobClosed())
        assert [s.status for s in index.sessions().rows] == ["closed"]


def test_an_index_of_a_newer_version_is_left_alone(data: Path) -> None:
    job("first")
    newer = sqlite3.connect(data / INDEX_NAME)
    newer.execute("CREATE TABLE treasure (gold)")
    newer.execute(f"PRAGMA application_id = {APPLICATION}")
    newer.execute(f"PRAGMA user_version = {VERSION + 1}")
    newer.close()
    before = (data / INDEX_NAME).read_bytes()
    with SessionIndex() as index:
        assert index.sessions().total == 1
        assert index.rebuild() == 1
    assert (data / INDEX_NAME).read_bytes() == before
    assert (data / f"index-{VERSION}.sqlite").is_file()


def test_where_no_index_can_be_written_it_is_worked_out_all_the_same(data: Path) -> None:
    job("first", ev.JobParked())
    (data / INDEX_NAME).mkdir()
    (data / f"index-{VERSION}.sqlite").mkdir()
    with SessionIndex() as index:
        assert index.sessions().total == 1
        assert index.search("call").total == 1


def test_two_programs_have_it_open_at_once(data: Path) -> None:
    folder = job("first")
    with SessionIndex() as one, SessionIndex() as other:
        assert one.sessions().total == other.sessions().total == 1
        add(folder, ev.JobParked())
        assert one.sessions(status="parked").total == 1
        assert other.sessions(status="parked").total == 1
        job("second", days=1)
        assert other.machines()[0].sessions == one.machines()[0].sessions == 2
