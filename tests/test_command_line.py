"""The command line as a whole: help, exit statuses, lists as JSON, what a shell completes."""

from __future__ import annotations

import argparse
import io
import json
import os
import subprocess
import sys
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from companion.cli import command_parser, main
from companion.commands.overview import EXIT_STATUSES, GROUPS, first
from companion.commands.progress import CLEARED, progress, waiting
from companion.job import events as ev
from companion.job.card import JobCard
from companion.job.sheet import SpecSheet
from companion.log.sessions import sessions_folder
from companion.settings import load_settings
from companion.shelf.load import load_card, load_sheet
from tests.logs import MACHINE, Bench

ROOT = Path(__file__).resolve().parent.parent
COLUMNS = 80


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(tmp_path / "data"))
    (tmp_path / "settings.toml").touch()
    monkeypatch.setenv("BENCH_COMPANION_SETTINGS", str(tmp_path / "settings.toml"))
    monkeypatch.chdir(tmp_path)


def leaves(
    parser: argparse.ArgumentParser | None = None, names: tuple[str, ...] = ()
) -> Iterator[tuple[str, argparse.ArgumentParser]]:
    parser = parser or command_parser()
    within = [each for each in parser._actions if isinstance(each, argparse._SubParsersAction)]
    if not within:
        yield " ".join(names), parser
    for action in within:
        for name, made in action.choices.items():
            yield from leaves(made, (*names, name))


# --- help -----------------------------------------------------------------------------------------
def test_the_program_alone_helps(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    for title, names in GROUPS.items():
        _, _, its = out.partition(f"{title}:\n")
        told = [line.split()[0] for line in its.split("\n\n")[0].splitlines()]
        assert told == [name for name in names if name in command_parser().commands()]
    assert max(map(len, out.splitlines())) <= COLUMNS


def test_every_command_is_in_one_group() -> None:
    grouped = [name for names in GROUPS.values() for name in names]
    assert len(grouped) == len(set(grouped))
    assert set(command_parser().commands()) <= set(grouped)


def test_the_help_says_what_every_exit_status_means(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit, match="0"):
        main(["--help"])
    out = capsys.readouterr().out
    manual = (ROOT / "docs" / "manual.md").read_text(encoding="utf-8")
    for number, meaning in EXIT_STATUSES.items():
        assert f"  {number:<4} {meaning}\n" in out
        assert f"| {number} | {meaning} |" in manual


def test_a_command_that_is_none_is_wrong_use_and_the_nearest_is_named(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["sesions"]) == 2
    assert "did you mean 'sessions'?" in capsys.readouterr().err


def test_the_same_flag_is_the_same_thing_everywhere() -> None:
    """Its value, how often it may be given, and what the help says of it."""
    # What is removed is what the command keeps; machines of the past go by their name as well.
    of_its_command = {"--remove", "--machine"}
    meanings: dict[str, dict[object, str]] = defaultdict(dict)
    for name, parser in leaves():
        for action in parser._actions:
            for flag in action.option_strings:
                if (name, flag) == ("checkup", "--voice"):
                    # There a voice is what is tried, whoever speaks.
                    continue
                meaning = (action.metavar, action.nargs, type(action), action.help)
                meanings[flag].setdefault(meaning, name)
    several = {flag: each for flag, each in meanings.items() if len(each) > 1}
    assert {flag: each for flag, each in several.items() if flag not in of_its_command} == {}


# --- exit statuses --------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("arguments", "status"),
    [
        (["sessions"], 0),
        (["voices"], 0),
        (["log", "check", "nothing"], 1),
        (["log", "check"], 1),
        (["report", "nothing"], 1),
        (["handbook", "nothing"], 2),
        (["history", "--search", "..."], 2),
        (["export"], 2),
        (["report", "one", "two", "--html", "page.html"], 2),
        (["calls", "--add", "fed her"], 2),
    ],
)
def test_the_exit_status_says_how_it_went(
    arguments: list[str], status: int, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(arguments) == status
    assert capsys.readouterr().err.startswith("companion: ") is (status != 0)


@pytest.mark.parametrize(
    "arguments", [["sessions", "--nothing"], ["board", "--port", "x"], ["log"]]
)
def test_what_the_parser_refuses_is_wrong_use(arguments: list[str]) -> None:
    with pytest.raises(SystemExit, match="2"):
        main(arguments)


# --- lists as JSON --------------------------------------------------------------------------------
SHAPES = {
    "sessions": "sessions",
    "history": "machines",
    "history Tiller": "history",
    "history --search frayed": "finds",
    "cautions": "cautions",
    "sheets": "sheets",
    "cards": "cards",
    "cards four-stroke-service blade-service": "cards",
    "sheets quillmoor-tiller tarnfield-mower": "sheets",
    "tags --rules": "rules",
    "check": "checked",
    "settings": "settings",
    "handbook": "topics",
    "export --columns": "columns",
    "voices": "voices",
    "log check first second": "checks",
    "log show first": "records",
    "log show first --marks": "marks",
    "calls --said": "forms",
    "grammar check nothing.gram": "grammars",
}


IN_OTHER_WORDS = ("history", "columns", "checked")
"""Lists that the text has as tables, or only counts."""


@pytest.fixture
def shop() -> None:
    for name, event in (
        ("first", ev.NoteKept(text="belt frayed", draft=True)),
        ("second", ev.JobClosed()),
    ):
        bench = Bench(sessions_folder() / name)
        bench.open(machine={**MACHINE, "name": "Tiller"})
        bench.call(f"call of {event.kind}", event)
        bench.writer.close()


@pytest.mark.usefixtures("shop")
@pytest.mark.parametrize("command", SHAPES)
def test_every_list_as_json_is_an_object_with_its_items(
    command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    plain = main(command.split())
    text = capsys.readouterr().out
    assert main([*command.split(), "--json"]) == plain
    value: dict[str, Any] = json.loads(capsys.readouterr().out)
    assert value["list"] == SHAPES[command]
    assert all(isinstance(each, dict) for each in value["items"])
    lead = [each for each in value["items"] if SHAPES[command] not in IN_OTHER_WORDS]
    for each in lead:
        # What the list is of stands in the text too.
        told = next(iter(each.values()))
        assert str(told) in text or "session" in each, (told, text)


@pytest.mark.usefixtures("shop")
def test_json_holds_what_the_text_tells(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["log", "show", "first"]) == 0
    text = [line for line in capsys.readouterr().out.splitlines() if line[:5].strip().isdigit()]
    assert main(["log", "show", "first", "--json"]) == 0
    items = json.loads(capsys.readouterr().out)["items"]
    assert len(items) == len(text)
    for item, line in zip(items, text, strict=True):
        assert line.split()[0] == str(item["record"])
        assert item["line"] in line
    assert main(["log", "check", "first", "second"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert main(["log", "check", "first", "second", "--json"]) == 0
    checks = json.loads(capsys.readouterr().out)["items"]
    verdicts = [line for line in lines if not line.startswith(" ")]
    for check, line in zip(checks, verdicts, strict=True):
        assert line.startswith(f"{check['folder']}: whole")
        assert f"; {check['records']} records, " in line
        assert check["whole"]


def test_every_command_that_lists_prints_json() -> None:
    lists = {
        "sessions", "history", "cautions", "sheets", "cards", "check", "settings",
        "calls", "checkup", "export", "handbook", "voices", "tags",
        "log check", "log show", "grammar check", "hear", "understand",
    }  # fmt: skip
    takes = {name for name, parser in leaves() if "--json" in parser._option_string_actions}
    assert lists <= takes


# --- several at once ------------------------------------------------------------------------------
@pytest.mark.usefixtures("shop")
def test_one_that_cannot_be_done_costs_none_of_the_others(
    capsys: pytest.CaptureFixture[str],
) -> None:
    for command in (["log", "check"], ["log", "show"], ["report"], ["tags"]):
        assert main([*command, "first", "nothing", "second"]) == 1
        out, err = capsys.readouterr()
        assert err.count("\n") == 1
        assert "nothing" in err
        assert "first" in out
        assert "second" in out


@pytest.mark.parametrize(
    ("command", "names", "refused"),
    [
        ("cards", ("blade-service", "four-stroke-service"), 1),
        ("sheets", ("quillmoor-tiller", "tarnfield-mower"), 1),
        ("handbook", ("torque 3/8 grade 5", "wrench M8"), 2),
    ],
)
def test_of_several_names_each_is_printed_under_its_name_and_what_is_none_is_refused(
    command: str, names: tuple[str, str], refused: int, capsys: pytest.CaptureFixture[str]
) -> None:
    alone = {}
    for name in names:
        assert main([command, name]) == 0
        alone[name] = capsys.readouterr().out
    together = "".join(f"{name}:\n{text}" for name, text in alone.items())
    first, second = names
    assert main([command, first, second]) == 0
    assert capsys.readouterr() == (together, "")
    assert main([command, first, "no such one", second]) == refused
    out, err = capsys.readouterr()
    assert out == together
    assert err.count("\n") == 1
    assert "'no such one'" in err or "no topic 'no'" in err


def test_one_question_to_the_handbook_may_be_quoted_in_parts(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["handbook", "torque", "3/8", "grade", "5"]) == 0
    plain = capsys.readouterr().out
    for quoted in (["torque 3/8 grade 5"], ["torque", "3/8", "grade 5"], ["torque 3/8", "grade 5"]):
        assert main(["handbook", *quoted]) == 0
        assert capsys.readouterr().out == plain
    assert main(["handbook", "torque 3/8 grade 5", "wrench M8", "--json"]) == 0
    torque, wrench = map(json.loads, capsys.readouterr().out.splitlines())
    assert torque["text"] in plain
    assert "13 millimeter" in wrench["text"]


def test_cards_and_sheets_that_are_named_stand_whole_in_their_list(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["cards", "blade-service", "no-card", "four-stroke-service", "--json"]) == 1
    out, err = capsys.readouterr()
    assert "no-card" in err
    cards = json.loads(out)
    assert [each["name"] for each in cards["items"]] == ["blade-service", "four-stroke-service"]
    assert JobCard.model_validate(cards["items"][0]["card"]) == load_card("blade-service")
    assert main(["sheets", "quillmoor-tiller", "--json"]) == 0
    (sheet,) = json.loads(capsys.readouterr().out)["items"]
    assert SpecSheet.model_validate(sheet["sheet"]) == load_sheet("quillmoor-tiller")


def test_the_table_of_dangers_for_programs_has_a_row_a_line(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["tags", "--rules"]) == 0
    lines = [line.strip() for line in capsys.readouterr().out.splitlines() if line[:1] == " "]
    assert main(["tags", "--rules", "--json"]) == 0
    rules = json.loads(capsys.readouterr().out)["items"]
    assert [each["line"] for each in rules] == lines
    assert {each["about"] for each in rules} == {"tag", "fluid", "work", "finding"}
    for each in rules:
        if each["about"] == "finding" and each["harmless"] is None:
            assert all(way in each["line"] for way in each["mended"])
    assert main(["tags", "--json"]) == 2
    assert "--json goes with --rules" in capsys.readouterr().err


def test_texts_in_quotes_are_a_call_each(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["understand", "gap thirty thou", "roger", "--json"]) == 0
    gap, roger = map(json.loads, capsys.readouterr().out.splitlines())
    assert (gap["measure"], gap["value"]) == ("gap", "30")
    assert roger["intent"] == "acknowledge"
    assert main(["understand", "gap", "thirty", "thou", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == gap


# --- progress ---------------------------------------------------------------------------------
class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_progress_is_shown_on_a_terminal_and_gone_at_the_end(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for stream, shown in ((Terminal(), True), (io.StringIO(), False)):
        monkeypatch.setattr(sys, "stderr", stream)
        with progress("logs read") as tell:
            tell(1, 2)
            assert ("logs read: 1 of 2" in stream.getvalue()) is shown
            tell(2, 2)
        with waiting("loading"):
            assert ("loading" in stream.getvalue()) is shown
        assert stream.getvalue().endswith(CLEARED) is shown
        assert bool(stream.getvalue()) is shown


# --- completion -----------------------------------------------------------------------------------
ASK = """
eval "$(companion completion bash)"
COMP_LINE={line}
COMP_POINT=${{#COMP_LINE}}
COMP_TYPE=9
COMP_WORDS=($COMP_LINE)
_python_argcomplete companion
printf '%s\\n' "${{COMPREPLY[@]}}"
"""


@pytest.mark.usefixtures("shop")
def test_bash_completes_commands_options_and_names(tmp_path: Path) -> None:
    program = tmp_path / "companion"
    program.write_text(f'#!/bin/sh\nexec {sys.executable} -m companion "$@"\n')
    program.chmod(0o755)
    env = {
        **os.environ,
        "PATH": f"{tmp_path}:{os.environ['PATH']}",
        "PYTHONPATH": str(ROOT),
    }
    lines = ("companion sess", "companion log check s", "companion work --job four")
    script = "".join(ASK.format(line=repr(line)) + "echo --\n" for line in lines)
    told = subprocess.run(
        ["bash", "-c", script], env=env, capture_output=True, text=True, check=True
    )
    assert [[word.strip() for word in each.split()] for each in told.stdout.split("--\n")] == [
        ["sessions"],
        ["second"],
        ["four-stroke-service"],
        [],
    ]
    assert told.stderr == ""


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_one_command_prints_what_a_shell_needs(
    shell: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["completion", shell]) == 0
    script = capsys.readouterr().out
    assert "_ARGCOMPLETE" in script
    begins = {"bash": "complete -o ", "zsh": "compdef ", "fish": "complete --command companion"}
    assert begins[shell] in script


# --- the setting that was renamed -----------------------------------------------------------------
def test_a_settings_file_with_a_former_name_works_and_the_new_name_is_told_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "settings.toml"
    path.write_text('voice = "en-us+f3"\n')
    for _ in range(2):
        assert load_settings(path).speech_voice == "en-us+f3"
    err = capsys.readouterr().err
    assert err.count("\n") == 1
    assert f"{path}: the setting 'voice' is called 'speech_voice' now" in err


def test_the_first_sentence_of_every_command_is_short() -> None:
    for name, about in command_parser().commands().items():
        assert len(first(about)) <= COLUMNS - 14, name
