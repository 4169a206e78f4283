"""``companion sessions`` and ``companion history``: lists, words found, sessions put away, and
sound that is removed because it is old."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from companion.cli import main
from companion.job import events as ev
from companion.log.other_places import list_other_place
from companion.log.sessions import sessions_folder
from tests.logs import MACHINE, Bench, invented_job, reading

Say = Callable[..., str]
LONG_AGO = datetime(2024, 3, 4, 9, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(tmp_path / "data"))
    (tmp_path / "settings.toml").touch()
    monkeypatch.setenv("BENCH_COMPANION_SETTINGS", str(tmp_path / "settings.toml"))
    monkeypatch.chdir(tmp_path)
    return tmp_path / "data"


@pytest.fixture
def companion(capsys: pytest.CaptureFixture[str]) -> Say:
    """Run a command and return what it printed; ``fails`` returns its one sentence instead."""

    def run(*arguments: object, fails: bool = False) -> str:
        status = main([str(each) for each in arguments])
        out, err = capsys.readouterr()
        assert (status != 0) == fails, err
        if fails:
            assert len(err.strip().splitlines()) == 1, err
            return err
        return out

    return run


def job(folder: Path, *events: ev.AnyEvent, clips: bool = False, of: str = "Tiller") -> Path:
    bench = Bench(folder, start=LONG_AGO, clips=clips)
    bench.open(machine={**MACHINE, "name": of})
    for event in events:
        bench.call(f"call of {event.kind}", event)
    bench.writer.close()
    return folder


BROKEN = ev.FindingRecorded(part="shear pin", condition="broken")


def test_the_list_tells_size_and_age(companion: Say) -> None:
    job(sessions_folder() / "old", ev.JobClosed())
    (line,) = companion("sessions").splitlines()
    assert line.startswith("old  closed  Tiller · Spring service, last 2024-03-04 09:00 (")
    assert "years old), " in line
    assert line.endswith(" kB")
    (values,) = json.loads(companion("sessions", "--json"))["items"]
    assert values["bytes"] == (sessions_folder() / "old" / "log.jsonl").stat().st_size


def test_a_session_put_away_is_off_the_list_and_holds_its_machine_all_the_same(
    companion: Say,
) -> None:
    job(sessions_folder() / "kept", ev.JobClosed(), of="Mower")
    job(sessions_folder() / "done", BROKEN, ev.JobClosed())
    assert "Put away: done" in companion("sessions", "--archive", "done")
    listed = companion("sessions")
    assert not any(line.startswith("done") for line in listed.splitlines())
    assert "Tiller: DO NOT START: shear pin broken" in listed
    assert "1 session put away" in listed
    assert companion("sessions", "--archived").startswith("done  closed")
    assert "shear pin broken" in companion("history", "tiller")
    assert "1 of them" not in companion("history", "--search", "finding")
    assert "On the list: done" in companion("sessions", "--bring-back", "done")
    assert "done  closed" in companion("sessions")
    assert companion("sessions", "--archived") == "No session was put away.\n"


def test_an_open_session_is_not_put_away(companion: Say) -> None:
    job(sessions_folder() / "under-way", BROKEN)
    job(sessions_folder() / "done", ev.JobClosed())
    told = companion("sessions", "--archive", "under-way", "done", fails=True)
    assert "under-way is still open; park or close the job" in told
    assert companion("sessions", "--archived") == "No session was put away.\n"


def test_one_put_away_that_is_gone_on_with_is_on_the_list_again(
    companion: Say, tmp_path: Path
) -> None:
    elsewhere = job(tmp_path / "elsewhere", ev.JobParked())
    list_other_place(elsewhere, "Tiller")
    companion("sessions", "--archive", elsewhere)
    assert companion("sessions", "--archived").startswith("elsewhere  parked")
    resumed = subprocess.run(
        [sys.executable, "-m", "companion", "resume", elsewhere, "--typed", "--quiet"],
        input="",
        text=True,
        capture_output=True,
        check=False,
    )
    assert resumed.returncode == 0, resumed.stderr
    assert companion("sessions").startswith("elsewhere  open")


def test_two_sessions_of_one_name_are_told_apart_wherever_a_name_is_taken(
    companion: Say, tmp_path: Path
) -> None:
    for place in ("one", "other"):
        list_other_place(job(tmp_path / place / "tiller", ev.JobClosed()), "Tiller")
    listed = companion("sessions")
    both = [str(tmp_path / place / "tiller") for place in ("one", "other")]
    assert all(f"{path}  closed" in listed for path in both)
    for command in (
        ("report", "tiller"),
        ("log", "check", "tiller"),
        ("resume", "tiller", "--typed", "--quiet"),
        ("sessions", "--archive", "tiller"),
        ("sessions", "--thin", "tiller", "--older-than", "1"),
    ):
        told = companion(*command, fails=True)
        assert "is the name of several sessions" in told
        assert all(path in told for path in both)
    for place in ("one", "other"):
        (tmp_path / place / "tiller" / "log.jsonl").unlink()
    told = companion("sessions", "--forget", "tiller", fails=True)
    assert all(path in told for path in both)
    companion("sessions", "--forget", both[0])
    assert both[1] in companion("sessions")


# --- old sound -----------------------------------------------------------------------------------
def test_old_sound_goes_when_affirmed_and_the_log_stays_whole(
    companion: Say, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = job(sessions_folder() / "old", BROKEN, ev.JobClosed(), clips=True)
    log = (folder / "log.jsonl").read_bytes()
    monkeypatch.setattr("builtins.input", lambda question: "n")
    assert "Nothing was removed." in companion("sessions", "--thin", "--older-than", "30")
    assert len(list((folder / "audio").iterdir())) == 2
    told = companion("sessions", "--thin", "--older-than", "30", "--yes")
    assert "old  2 clips, " in told
    assert "Removed: 2 clips" in told
    assert list((folder / "audio").iterdir()) == []
    assert (folder / "log.jsonl").read_bytes() == log
    checked = companion("log", "check", "old")
    assert "whole" in checked
    assert "2 clips removed by age" in checked
    assert "The clip audio/0002.flac was removed by age on" in _page(companion, folder)
    assert "No clip is older than 30 days." in companion("sessions", "--thin", "--older-than", "30")


def _page(companion: Say, folder: Path) -> str:
    companion("report", folder)
    return (folder / "report.html").read_text()


def test_a_clip_that_is_missing_is_another_thing(companion: Say) -> None:
    folder = job(sessions_folder() / "old", BROKEN, ev.JobClosed(), clips=True)
    companion("sessions", "--thin", "--older-than", "30", "--yes")
    other = job(sessions_folder() / "other", BROKEN, clips=True)
    (other / "audio" / "0002.flac").unlink()
    assert main(["log", "check", str(other)]) == 1
    assert main(["log", "check", str(folder)]) == 0


def test_what_is_not_old_and_a_note_that_nobody_confirmed_keep_their_sound(
    companion: Say,
) -> None:
    folder = sessions_folder() / "notes"
    bench = Bench(folder, start=LONG_AGO)
    bench.open()
    bench.call("note", ev.NoteKept(text=None, draft=True, clip="audio/0002.flac"))
    bench.call("shear pin broken", BROKEN)
    bench.now = datetime.now(UTC) - timedelta(days=3)
    bench.call("close job", ev.JobClosed())
    bench.writer.close()
    told = companion("sessions", "--thin", "--older-than", "30", "--yes")
    assert "1 clip, " in told
    assert "1 clip of unconfirmed notes stay" in told
    assert [path.name for path in sorted((folder / "audio").iterdir())] == [
        "0002.flac",
        f"{6:04d}.flac",
    ]


def test_how_old_is_old_comes_from_the_settings(companion: Say, tmp_path: Path) -> None:
    job(sessions_folder() / "old", BROKEN, clips=True)
    told = companion("sessions", "--thin", fails=True)
    assert "--older-than DAYS, or set keep_clips" in told
    (tmp_path / "settings.toml").write_text("keep_clips = 365\n")
    assert "Removed: 1 clip" in companion("sessions", "--thin", "--yes")
    assert "1 day or more" in companion("sessions", "--thin", "--older-than", "0", fails=True)
    ages = "9" * 30
    assert "36500 days or less" in companion("sessions", "--thin", "--older-than", ages, fails=True)


# --- history -------------------------------------------------------------------------------------
def test_history_lists_the_machines_finds_words_and_makes_its_index_anew(companion: Say) -> None:
    assert companion("history").startswith("No machine yet")
    job(sessions_folder() / "first", BROKEN, reading("gap", "30", "thou", verdict="in"))
    invented_job(sessions_folder() / "second", clips=False)
    tiller, quillmoor = sorted(companion("history").splitlines(), key=lambda line: line[0] != "T")
    assert tiller.startswith("Tiller  DO NOT START: shear pin broken  1 job, 1 not closed, last")
    assert quillmoor.startswith("Quillmoor tiller  DO NOT START: ")
    (found,) = companion("history", "--search", "frayed").splitlines()
    assert "note: " in found
    assert "[frayed]" in found
    assert "(second, record " in found
    assert companion("history", "tiller", "--search", "frayed").startswith("Nothing said")
    (hit,) = json.loads(companion("history", "--search", "frayed", "--json"))["items"]
    assert hit["session"] == "second"
    assert companion("history", "--reindex") == ""
    assert len(json.loads(companion("history", "--json"))["items"]) == 2
    (values,) = json.loads(companion("history", "Tiller", "--json"))["items"]
    assert values["readings"]["gap"][0]["value"] == "30"
    assert values["standing"] == ["shear pin broken"]


def test_what_history_cannot_do_is_told_in_one_sentence(companion: Say, tmp_path: Path) -> None:
    job(sessions_folder() / "first", BROKEN)
    assert "there are sessions of Tiller" in companion("history", "mower", fails=True)
    assert "name the machine" in companion("history", "--html", "page.html", fails=True)
    assert "cannot be written" in companion(
        "history", "tiller", "--html", tmp_path / "nowhere" / "page.html", fails=True
    )
    assert "1 or more" in companion("history", "--limit", "0", fails=True)
    assert companion("history", "tiller", "--html", "page.html") == "Page: page.html\n"
