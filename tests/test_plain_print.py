"""What others wrote (names, calls, file names) is printed as text, never as an order to a
terminal; and no sign in it can end the program."""

from __future__ import annotations

import io
import json
import os
import sys
from pathlib import Path

import pytest

from companion.cli import main
from companion.job import events as ev
from companion.log.index import SessionIndex
from companion.log.sessions import sessions_folder
from companion.log.writer import LogWriter
from companion.plain_print import ORDERS, PlainText, json_text
from tests.logs import MACHINE, Bench

HOSTILE = "Tiller\x1b[31m\x1b]0;owned\x07 \x9b2J\u202egnp\r\x7f"
SESSION = "job 名 \x1b[2J"
COMMANDS = (
    ["sessions"],
    ["sessions", "--json"],
    ["history"],
    ["history", "--json"],
    ["history", HOSTILE],
    ["history", "\x1b[2J"],
    ["history", "--search", "red"],
    ["history", "--search", "\x1b[2J"],
    ["history", "--search", "red", "--json"],
    ["log", "show"],
    ["log", "check"],
    ["sessions", "--archive", "\x1b[2J none"],
    ["tags"],
    ["report"],
    ["export", "--zip", "x\x1b[2J.zip"],
    ["import", "x\x1b[2J.zip"],
    ["photo", "none\x1b[2J.jpg"],
    ["work", "--machine", "\x1b[2J"],
    ["\x1b[2J"],
)


@pytest.fixture(autouse=True)
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """One session, everything in which is hostile."""
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(tmp_path / "data"))
    (tmp_path / "settings.toml").touch()
    monkeypatch.setenv("BENCH_COMPANION_SETTINGS", str(tmp_path / "settings.toml"))
    monkeypatch.chdir(tmp_path)
    bench = Bench(sessions_folder() / SESSION, clips=False)
    bench.open(machine={**MACHINE, "name": HOSTILE})
    bench.call("note \x1b[31mred", ev.NoteKept(about="note", draft=False, text="\x1b[31mred"))
    bench.call("broken", ev.FindingRecorded(part="shear\x1b[5m pin", condition="broken"))
    bench.writer.close()
    return bench.folder


def run(arguments: list[str]) -> int:
    try:
        return main(arguments)
    except SystemExit as ended:  # as argparse does
        return int(ended.code or 0)


@pytest.mark.parametrize("arguments", COMMANDS, ids=lambda each: ascii(" ".join(each)))
def test_no_order_to_a_terminal_is_printed(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(arguments) in (0, 1, 2)
    out, err = capsys.readouterr()
    assert out or err
    assert not ORDERS.search(out + err), ascii(out + err)


def test_json_holds_what_the_log_holds(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["sessions", "--json"]) == 0
    (session,) = json.loads(capsys.readouterr().out)["items"]
    assert session["machine"] == HOSTILE
    assert session["session"] == SESSION


def test_json_text_is_the_same_value() -> None:
    value = {"a": [HOSTILE, "\u2028 名 😀", "\\x1b"], "b": None}
    assert json.loads(json_text(value, indent=2)) == value
    assert not ORDERS.search(json_text(value))


def test_a_terminal_of_few_characters_gets_marks_for_the_others() -> None:
    below = io.BytesIO()
    stream = io.TextIOWrapper(below, encoding="ascii")
    PlainText(stream).write("gap “30” thou\n")
    stream.flush()
    assert below.getvalue() == b"gap ?30? thou\n"


def test_streams_are_as_they_were_after_a_command(capsys: pytest.CaptureFixture[str]) -> None:
    before = sys.stdout, sys.stderr
    run(["sessions"])
    assert (sys.stdout, sys.stderr) == before


# --- bytes that are no text --------------------------------------------------------------------
def test_bytes_that_are_no_text_do_not_end_a_typed_session(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    typed = io.TextIOWrapper(
        io.BytesIO(b"note half \xff a word\nclose job\naffirm\n"), "utf-8", errors="surrogateescape"
    )
    monkeypatch.setattr(sys, "stdin", typed)
    odd = os.fsdecode(b"Odd \xff")
    status = run(["work", "--typed", "--quiet", "--name", odd, "--customer", odd, "--out", "typed"])
    out, err = capsys.readouterr()
    assert status == 0, err
    assert "note: half \ufffd a word" in out
    assert run(["log", "check", "typed"]) == 0
    assert run(["sessions"]) == 0
    assert "Odd \ufffd" in capsys.readouterr().out


def test_a_session_folder_whose_name_is_no_text_is_not_made(
    capsys: pytest.CaptureFixture[str],
) -> None:
    odd = os.fsdecode(b"odd\xff")
    assert run(["work", "--typed", "--quiet", "--out", odd]) == 1
    assert "name another folder" in capsys.readouterr().err
    assert not Path(odd).exists()


def test_one_that_came_from_elsewhere_is_listed_with_the_rest(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    odd = sessions_folder() / os.fsdecode(b"odd\xff")
    shop.rename(odd)
    for arguments in (["sessions"], ["history", HOSTILE], ["log", "check"], ["report"]):
        assert run(arguments) == 0, capsys.readouterr().err
    with SessionIndex() as index:
        assert [row.folder for row in index.sessions(limit=None).rows] == [odd]
        assert index.folders_of(HOSTILE) == [odd]


# --- what the system refuses -------------------------------------------------------------------
@pytest.mark.parametrize(
    "arguments",
    [
        ["report", "x" * 300],
        ["sessions", "--archive", "x" * 5000],
        ["work", "--typed", "--quiet", "--out", "x" * 300],
        ["photo", "x" * 300],
        ["import", "x" * 300],
        ["history", HOSTILE, "--html", "x" * 300],
    ],
    ids=lambda each: each[0],
)
def test_a_name_that_is_too_long_is_told_in_a_sentence(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(arguments) == 1
    err = capsys.readouterr().err
    assert err.startswith("companion: ")
    assert len(err.strip().splitlines()) == 1


def test_half_a_character_does_not_cost_a_record(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "half", clips=False)
    bench.open()
    bench.call("note", ev.NoteKept.model_construct(about="note", draft=False, text="a \udcff"))
    bench.writer.close()
    LogWriter.open(tmp_path / "half").close()
