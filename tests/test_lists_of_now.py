"""The lists and the page of a machine tell what holds it now; what hung at a job's end and came
down since is told as past. Machines are told apart in whatever letters they are named."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from companion.cli import main
from companion.job import events as ev
from companion.log.index import SessionIndex
from companion.log.line import LOG_NAME
from companion.log.names import name_key, same_machine
from companion.log.other_places import list_other_place
from companion.log.sessions import sessions_folder
from companion.report.machine_page import render_machine
from tests.logs import MACHINE, MONDAY, Bench

CRACKED = ev.FindingRecorded(part="fuel line", condition="cracked")
MENDED = ev.WorkRecorded(action="replaced", part="fuel line")
HUNG = ev.TagHung(tag="no oil", by="voice")
CLEARED = ev.TagCleared(tag="no oil")

Say = Callable[..., str]


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(tmp_path / "data"))
    (tmp_path / "settings.toml").touch()
    monkeypatch.setenv("BENCH_COMPANION_SETTINGS", str(tmp_path / "settings.toml"))
    monkeypatch.chdir(tmp_path)
    return tmp_path / "data"


@pytest.fixture
def companion(capsys: pytest.CaptureFixture[str]) -> Say:
    def run(*arguments: str) -> str:
        assert main(arguments) == 0, capsys.readouterr().err
        return capsys.readouterr().out

    return run


def job(
    name: str, *events: ev.AnyEvent, days: int = 0, of: str = "Tiller", serial: str | None = None
) -> Path:
    bench = Bench(sessions_folder() / name, start=MONDAY + timedelta(days=days), clips=False)
    machine: dict[str, Any] = {**MACHINE, "name": of}
    if serial is not None:
        machine["identification"] = {"serial": serial}
    bench.open(machine=machine, card=None)
    for event in events:
        bench.call(f"a call in {name}", event)
    bench.happen(ev.JobClosed())
    bench.writer.close()
    return bench.folder


def damage(folder: Path, line: int) -> None:
    lines = (folder / LOG_NAME).read_bytes().splitlines(keepends=True)
    lines[line] = lines[line].replace(b'"', b"'")
    (folder / LOG_NAME).write_bytes(b"".join(lines))


def line_of(name: str, listed: str) -> str:
    (line,) = (line for line in listed.splitlines() if line.startswith(f"{name}  "))
    return line


# --- what hangs now, and what hung ---------------------------------------------------------------
def test_a_tag_that_came_down_in_a_later_session_is_told_as_past(companion: Say) -> None:
    job("first", HUNG, CRACKED)
    before = companion("sessions")
    assert "TAGS HANG: no oil" in line_of("first", before)
    job("second", CLEARED, MENDED, days=7)

    listed = companion("sessions")
    assert "TAGS HANG" not in listed
    assert "DO NOT START" not in listed
    assert line_of("first", listed).endswith("; hung at its end, came down since: no oil")
    (values,) = (
        each
        for each in json.loads(companion("sessions", "--json"))["items"]
        if each["session"] == "first"
    )
    assert (values["tags"], values["tags_down"]) == ([], ["no oil"])

    history = companion("history", "Tiller")
    assert "TAG HANGS" not in history
    assert "HOLDS THE START" not in history
    assert "hung at its end, came down since: no oil" in history
    assert "held the start at its end, seen to since: fuel line cracked" in history

    with SessionIndex() as index:
        page = render_machine(index.machine("Tiller"))
    assert "TAGS HANG" not in page
    assert "Hung at its end, came down since: no oil" in page


def test_a_tag_that_hangs_again_stands_in_capitals(companion: Say) -> None:
    job("first", HUNG)
    job("second", CLEARED, days=7)
    job("third", HUNG, days=9)
    listed = companion("sessions")
    assert "TAGS HANG: no oil" in line_of("third", listed)
    assert "TAGS HANG: no oil" in line_of("first", listed)
    assert "TAGS HANG" not in line_of("second", listed)
    assert "TAG HANGS: no oil" in companion("history", "Tiller")


def test_what_another_machine_cleared_still_hangs_here(companion: Say) -> None:
    job("first", HUNG, serial="A 1")
    job("second", CLEARED, days=7, serial="B 2")
    assert "TAGS HANG: no oil" in line_of("first", companion("sessions"))
    job("third", CLEARED, days=8, serial="a-1")
    assert "came down since: no oil" in line_of("first", companion("sessions"))


def test_a_session_of_no_machine_keeps_its_tags(companion: Say) -> None:
    bench = Bench(sessions_folder() / "bare", clips=False)
    bench.open(machine=None, card=None)
    bench.call("tag no oil", HUNG)
    bench.writer.close()
    assert "TAGS HANG: no oil" in line_of("bare", companion("sessions"))


# --- a log that cannot be read -------------------------------------------------------------------
@pytest.mark.parametrize("line", [0, 2], ids=["its first line too", "but its first line"])
def test_a_machine_with_a_damaged_log_is_held_in_the_lists_as_at_the_bench(
    line: int, companion: Say
) -> None:
    job("first")
    job("other", of="Washer")
    damage(job("2026-03-05-1000-tiller", HUNG, days=3), line)
    machines = companion("history")
    assert "DO NOT START: log unread" in line_of("Tiller", machines)
    assert "DO NOT START" not in line_of("Washer", machines)
    assert "Tiller: DO NOT START: log unread" in companion("sessions")
    with SessionIndex() as index:
        page = render_machine(index.machine("Tiller"))
    assert "Log unread" in page


def test_so_is_one_of_which_a_session_is_gone(companion: Say, tmp_path: Path) -> None:
    job("first", of="Tiller")
    elsewhere = tmp_path / "my bench"
    list_other_place(elsewhere, "Tiller")
    list_other_place(tmp_path / "alone", "Alone")
    machines = companion("history")
    assert "DO NOT START: log unread" in line_of("Tiller", machines)
    assert f"companion sessions --forget '{elsewhere}'" in line_of("my bench", machines)
    assert "what it said of Alone is not known" in machines


# --- names ---------------------------------------------------------------------------------------
APART = [
    ("Газонокосилка", "Трактор"),
    ("名", "東"),
    ("😀", "😢"),
    ("!!!", "???"),
    ("Mäher", "Möher"),
    ("x" * 300, "x" * 299 + "y"),
    ("Mower_2", "Mower"),
    ("job", "名"),
]
ALIKE = [
    ("Quillmoor Tiller", "quillmoor-tiller"),
    ("ТРАКТОР 2", "трактор-2"),
    ("Cafe\u0301", "CAFÉ"),
    ("x" * 300, "X" * 300),
]


@pytest.mark.parametrize(("one", "other"), APART, ids=ascii)
def test_machines_of_other_names_are_others(one: str, other: str, companion: Say) -> None:
    assert not same_machine(one, other)
    job("first", CRACKED, of=one)
    job("second", of=other)
    with SessionIndex() as index:
        assert {row.name: bool(row.standing) for row in index.machines()} == {
            one: True,
            other: False,
        }
        for name in (one, other):
            history = index.machine(name)
            assert [session.machine for session in history.sessions] == [name]
            assert index.machine(history.row.key).row == history.row
            assert index.sessions(machine=name).total == 1
            assert index.search("call", machine=name).total == (name == one)


@pytest.mark.parametrize(("one", "other"), ALIKE, ids=ascii)
def test_a_name_in_other_writing_is_the_same(one: str, other: str) -> None:
    assert same_machine(one, other)
    assert name_key(name_key(one)) == name_key(one)
    assert name_key(one).isascii()


def test_a_name_that_reads_like_the_key_of_another_machine_finds_its_own() -> None:
    job("first", of="mower_2")
    with SessionIndex() as index:
        assert index.machine("mower_2").row.name == "mower_2"
        job("second", of="mower")
    with SessionIndex() as index:
        assert index.machine("mower_2").row.name == "mower_2"
        assert index.machine("mower").row.name == "mower"


def test_serial_numbers_in_other_letters_tell_machines_apart() -> None:
    job("first", HUNG, serial="№ А-7")
    job("second", serial="№ Б-7")
    with SessionIndex() as index:
        standing = {row.serial: row.standing for row in index.machines()}
    assert standing == {"№ А-7": ("no oil",), "№ Б-7": ()}


@pytest.mark.parametrize("words", ["", "   ", '"', "*", "😀"], ids=ascii)
def test_a_search_for_no_word_says_what_to_do(
    words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["history", "--search", words]) == 2
    assert "--search needs a word" in capsys.readouterr().err
