"""The sessions of a shop: their folders, finding one again, what a machine read last time."""

from __future__ import annotations

import resource
from datetime import UTC, datetime, timedelta
from pathlib import Path

import platformdirs
import pytest

from companion.cli import main
from companion.errors import CompanionError
from companion.files.data import data_folder
from companion.job import events as ev
from companion.log.finding import find_session
from companion.log.history import history_lines
from companion.log.index import SessionIndex
from companion.log.index_lines import session_line
from companion.log.sessions import free_folder, new_session_folder, sessions_folder
from companion.log.summaries import SessionSummary, UnreadableSession, list_sessions
from companion.log.writer import LogWriter
from tests.logs import MACHINE, MONDAY, Bench, invented_job, reading


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(tmp_path / "data"))
    return tmp_path / "data"


def job(
    name: str, *, days: int = 0, machine: dict[str, object] | None = MACHINE, end: str = ""
) -> Path:
    folder = sessions_folder() / name
    bench = Bench(folder, start=MONDAY + timedelta(days=days), clips=False)
    bench.open(machine=machine)
    bench.call("gap thirty thou", reading("gap", "30", "thou", verdict="unknown"))
    if end == "parked":
        bench.happen(ev.JobParked())
    if end == "closed":
        bench.happen(ev.JobClosed())
    bench.writer.close()
    return folder


def test_the_data_folder_is_where_the_system_keeps_such_things(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    assert data_folder() == tmp_path / "data"
    monkeypatch.delenv("BENCH_COMPANION_DATA")
    assert data_folder() == platformdirs.user_data_path("bench-companion", appauthor=False)


def test_a_session_folder_is_named_by_date_time_and_machine(data: Path) -> None:
    folder = new_session_folder(MONDAY, "Quillmoor Tiller №2 / Ä")
    assert folder == data / "sessions" / "2026-03-02-0915-quillmoor-tiller-2"
    assert not folder.exists()
    assert new_session_folder(MONDAY, "../..").name == "2026-03-02-0915-job"
    assert len(new_session_folder(MONDAY, "x" * 500).name) < 100


def test_a_second_session_in_the_same_minute_has_its_own_folder() -> None:
    names = []
    for _ in range(3):
        folder = new_session_folder(MONDAY, "tiller")
        LogWriter.create(folder).close()
        names.append(folder.name)
    assert names == [f"2026-03-02-0915-tiller{end}" for end in ("", "-2", "-3")]


def test_a_named_folder_is_taken_as_it_is_unless_a_session_is_there(tmp_path: Path) -> None:
    assert free_folder(tmp_path / "out") == tmp_path / "out"
    LogWriter.create(tmp_path / "out").close()
    assert free_folder(tmp_path / "out") == tmp_path / "out-2"


def test_no_session_yet_is_an_empty_list_and_a_sentence_when_one_is_asked_for() -> None:
    assert list_sessions() == ()
    with pytest.raises(CompanionError, match="There is no session in"):
        find_session()
    with pytest.raises(CompanionError, match="There is no session 'tiller'"):
        find_session("tiller")


def test_sessions_are_listed_the_latest_first_with_how_they_stand() -> None:
    job("a", days=0, end="closed")
    job("b", days=2)
    job("c", days=1, end="parked")
    listed = list_sessions()
    assert [session.folder.name for session in listed] == ["b", "c", "a"]
    assert [s.status for s in listed if isinstance(s, SessionSummary)] == [
        "open",
        "parked",
        "closed",
    ]
    assert lines()[0].startswith(
        "b  open  Quillmoor tiller · Spring service, last 2026-03-04 09:15 (12 days old), "
    )


def lines() -> list[str]:
    """The list of sessions, as it is printed twelve days after that."""
    with SessionIndex() as index:
        rows = index.sessions(limit=None).rows
    return [session_line(row, datetime(2026, 3, 16, 12, 0, tzinfo=UTC)) for row in rows]


def test_hanging_tags_show_in_the_list() -> None:
    invented_job(sessions_folder() / "tiller", clips=False)
    (line,) = lines()
    assert "TAGS HANG: plug wire off  " in line


def test_an_unreadable_log_has_a_line_and_hides_no_other() -> None:
    job("good")
    (job("bad") / "log.jsonl").write_bytes(b"dear diary\n")
    good, bad = list_sessions()
    assert good.folder.name == "good"
    assert isinstance(bad, UnreadableSession)
    assert lines()[1].startswith("bad  unreadable: ")
    assert find_session().name == "good"
    assert any("not read: bad" in line for line in history_lines("quillmoor tiller"))


def test_a_session_is_found_by_path_name_part_of_a_name_or_as_the_latest(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tiller = job("2026-03-02-0915-tiller")
    chipper = job("2026-03-03-0915-chipper", days=1, end="closed")
    assert find_session(str(tiller)) == tiller
    assert find_session(tiller / "log.jsonl") == tiller
    assert find_session("2026-03-02-0915-tiller") == tiller
    assert find_session("chipper") == chipper
    assert find_session() == chipper
    # Only what is not closed can be resumed without naming it.
    assert find_session(unfinished=True) == tiller
    with pytest.raises(CompanionError, match="name of several sessions"):
        find_session("2026")
    monkeypatch.chdir(tiller.parent)
    assert find_session("2026-03-02-0915-tiller").resolve() == tiller


def test_a_name_that_is_whole_is_not_mixed_up_with_a_longer_one() -> None:
    first = job("tiller")
    job("tiller-2")
    assert find_session("tiller") == first


def test_history_sets_side_by_side_what_counted_in_each_session_of_a_machine() -> None:
    invented_job(sessions_folder() / "first", clips=False)
    job("second", days=30, end="closed")
    job("other", machine={**MACHINE, "name": "Brindle generator"})
    assert history_lines("QUILLMOOR-TILLER") == [
        "Quillmoor tiller: 2 sessions",
        "",
        "READ         2026-04-01  2026-03-02             wanted",
        "gap          30 thou     31 thou, in            28 to 31 thou",
        "compression  -           75 psi, low by 15 psi  at least 90 psi",
        "",
        "TOOK               2026-04-01  2026-03-02",
        "oil drained        -           18 ounces",
        "oil added          -           0.5 liters + 1 ounce",
        "spark plug used    -           1",
        "shear pin needed   -           2",
        "drive belt needed  -           1",
        "",
        "DONE",
        "2026-04-01  Spring service, closed  (second)",
        "    nothing else recorded",
        "2026-03-02  Spring service, open  (first)",
        "    TAG HANGS: plug wire off",
        "    found drive belt worn",
        "    tightened handle bolt",
        "    follow up carburetor",
    ]


def test_history_of_many_sessions_goes_on_in_further_tables() -> None:
    for number in range(6):
        job(f"session-{number}", days=30 * number, end="closed")
    lines = history_lines("Quillmoor tiller")
    heads = [line.split()[1:-1] for line in lines if line.startswith("READ")]
    assert heads == [
        ["2026-07-30", "2026-06-30", "2026-05-31", "2026-05-01"],
        ["2026-04-01", "2026-03-02"],
    ]
    assert max(map(len, lines)) < 110


def test_an_unknown_machine_is_told_with_those_that_are_known() -> None:
    job("one")
    with pytest.raises(CompanionError, match=r"named 'mower'; there are sessions of Quillmoor"):
        history_lines("mower")


@pytest.mark.parametrize("name", ["n" * 300, "n" * 250 + "/job", "nobody\0"])
def test_where_no_name_can_be_looked_at_none_is_sought_for_ever(name: str, data: Path) -> None:
    data.mkdir()
    with pytest.raises((CompanionError, ValueError)):
        LogWriter.create(free_folder(data / ("n" * 300) / name))


def test_a_log_that_is_blank_lines_is_left_out_of_a_zip_and_fills_no_memory(data: Path) -> None:
    job("good")
    (job("bad") / "log.jsonl").write_bytes(b"\n" * 3_000_000)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    assert main(["export", "--zip", str(data / "all.zip")]) == 1
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 100_000
