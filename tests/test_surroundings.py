"""Whatever the program is started in: one sentence, an exit status by convention, no traceback.

Every command of the parser is tried in every kind of bad surroundings, so that a new command is
tried as well.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.program import USUAL, Around, Program
from tests.surroundings import HEAVY, commands, options_with_values

COMMANDS = commands()
LONG = "n" * 300
ODD = os.fsdecode(b"odd \xff\x1b[31m name")


@dataclass
class Place:
    """A shop in which a command is called: its folder and its environment."""

    folder: Path
    env: dict[str, str]

    @property
    def data(self) -> Path:
        return Path(self.env["BENCH_COMPANION_DATA"])

    @property
    def settings(self) -> Path:
        return Path(self.env["BENCH_COMPANION_SETTINGS"])


def _data_is_a_file(place: Place) -> None:
    place.data.write_text("in the way")


def _data_has_a_long_name(place: Place) -> None:
    place.env["BENCH_COMPANION_DATA"] = str(place.folder / LONG)


def _data_is_a_circle_of_links(place: Place) -> None:
    place.data.symlink_to(place.data)


def _data_of_nobody(place: Place) -> None:
    place.env["BENCH_COMPANION_DATA"] = "~nobody-of-this-name/data"


def _settings_have_a_long_name(place: Place) -> None:
    place.env["BENCH_COMPANION_SETTINGS"] = str(place.folder / LONG)


def _settings_are_a_folder(place: Place) -> None:
    place.settings.unlink()
    place.settings.mkdir()


def _settings_are_a_pipe(place: Place) -> None:
    place.settings.unlink()
    os.mkfifo(place.settings)


def _folder_is_gone(place: Place) -> None:
    # The program is started in it first.
    place.env["GONE"] = str(place.folder / "gone")


def _terminal_of_no_kind(place: Place) -> None:
    place.env |= {"TERM": "no-such-terminal", "COLUMNS": "many", "LINES": "-1"}


PLACES: Mapping[str, Callable[[Place], None]] = {
    function.__name__.strip("_").replace("_", " "): function
    for function in (
        _data_is_a_file,
        _data_has_a_long_name,
        _data_is_a_circle_of_links,
        _data_of_nobody,
        _settings_have_a_long_name,
        _settings_are_a_folder,
        _settings_are_a_pipe,
        _terminal_of_no_kind,
    )
}
STREAMS: Mapping[str, Around] = {
    "output on a full disk": Around(full=(1,)),
    "both on a full disk": Around(full=(1, 2)),
    "input closed": Around(closed=(0,)),
    "output closed": Around(closed=(1,)),
    "errors closed": Around(closed=(2,)),
    "all closed": Around(closed=(0, 1, 2)),
    "no file may be opened": Around(handles=3),
    "a few files may be opened": Around(handles=9),
    "output in ASCII": Around(encoding="ascii"),
}


@pytest.fixture
def place(tmp_path: Path, shop: dict[str, str]) -> Place:
    Path(shop["BENCH_COMPANION_SETTINGS"]).touch()
    return Place(tmp_path, shop)


def run_in(
    program: Program, place: Place, arguments: list[str], around: Around = USUAL
) -> subprocess.CompletedProcess[str]:
    return program.run(
        arguments,
        typed="gap thirty thou\nnote für Zoë\nclose job\naffirm\n",
        env=place.env,
        cwd=place.folder,
        around=around,
    )


def assert_told(run: subprocess.CompletedProcess[str]) -> None:
    """It ended as a program may, and said why where it could."""
    assert run.returncode in (0, 1, 2), run.stderr
    assert "Traceback" not in run.stderr
    assert "went wrong in the program" not in run.stderr
    assert "Exception ignored" not in run.stderr
    for line in run.stderr.splitlines():
        assert re.match(r"(companion: |works |FAILS |usage: | {10}|companion .*: error: )", line), (
            run.stderr
        )


named = pytest.mark.parametrize("arguments", COMMANDS, ids=lambda each: " ".join(each[:2]))


def kinds_for(arguments: list[str]) -> Mapping[str, Around]:
    if arguments[0] not in HEAVY:
        return STREAMS
    few = ("both on a full disk", "all closed", "a few files may be opened")
    return {kind: STREAMS[kind] for kind in few}


@named
def test_every_command_with_any_standard_streams(
    arguments: list[str], program: Program, place: Place
) -> None:
    for around in kinds_for(arguments).values():
        assert_told(run_in(program, place, arguments, around))
        shutil.rmtree(place.data, ignore_errors=True)
        shutil.rmtree(place.folder / "worked", ignore_errors=True)


@pytest.mark.parametrize("kind", ["output on a full disk", "output closed"])
@pytest.mark.parametrize("arguments", [["cards"], ["--help"], ["log", "schema"]])
def test_what_could_not_be_printed_is_told(
    arguments: list[str], kind: str, program: Program, place: Place
) -> None:
    run = run_in(program, place, arguments, STREAMS[kind])
    assert run.returncode == 1
    (line,) = run.stderr.splitlines()
    assert "not all that was to be printed could be written" in line


def test_a_session_goes_on_to_its_end_where_nothing_can_be_printed(
    program: Program, place: Place
) -> None:
    work = ["work", "--typed", "--quiet", "--out", "worked"]
    run = run_in(program, place, work, Around(full=(1,)))
    assert run.returncode == 1
    assert "job.closed" in (place.folder / "worked" / "log.jsonl").read_text()


def test_a_closed_input_is_an_empty_one(program: Program, place: Place) -> None:
    work = ["work", "--typed", "--quiet", "--out", "worked"]
    run = run_in(program, place, work, Around(closed=(0,)))
    assert run.returncode == 0, run.stderr
    assert "Session: worked" in run.stdout


@named
def test_every_command_in_any_place(arguments: list[str], program: Program, place: Place) -> None:
    before = dict(place.env)
    kinds = list(PLACES.items())[: 2 if arguments[0] in HEAVY else None]
    for number, (kind, change) in enumerate(kinds):
        here = Place(place.folder / f"place {number}", dict(before))
        here.folder.mkdir()
        here.env["BENCH_COMPANION_DATA"] = str(here.folder / "data")
        here.env["BENCH_COMPANION_SETTINGS"] = str(here.folder / "settings.toml")
        here.settings.touch()
        change(here)
        run = run_in(program, here, arguments)
        assert_told(run)
        assert run.stdout or run.stderr, kind
    assert_told(run_in(program, place, arguments, Around(folder_gone=True)))


@named
def test_every_word_of_the_command_line_may_be_long_or_odd(
    arguments: list[str], program: Program, place: Place
) -> None:
    options = options_with_values(arguments)
    lines = [[*arguments, word] for word in (LONG, ODD, "", "w" * 100_000)]
    if arguments[0] not in HEAVY:
        lines += [[*arguments, f"{option}={LONG}"] for option in options]
    lines += [[*arguments, *(f"{option}={word}" for option in options)] for word in (ODD, "")]
    for line in lines:
        assert_told(run_in(program, place, line))
        shutil.rmtree(place.folder / "worked", ignore_errors=True)


# --- signals -----------------------------------------------------------------------------------
SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


@pytest.mark.parametrize("number", SIGNALS, ids=lambda each: each.name)
def test_a_signal_while_the_program_begins_ends_it_without_a_word_of_where(
    number: signal.Signals, place: Place
) -> None:
    """Sent at each of several moments of loading, known by the modules that are loaded then."""
    streams, board = "companion.standard_streams", "companion.commands.board"
    for module in (streams, "companion.cli", board, "companion.settings", "pydantic"):
        ended = python(place, SENDS, module, str(number.value), "understand", "roger")
        assert "Traceback" not in ended.stderr, ended.stderr
        # As the shell has it: ended by the signal, or 130 where Ctrl-C was answered.
        answered = [130] if number is signal.SIGINT else []
        assert ended.returncode in [-number, *answered], (module, ended.stderr)
        assert len(ended.stderr.splitlines()) <= 1


def test_ctrl_c_at_every_line_around_a_command_ends_it_without_a_word_of_where(
    place: Place,
) -> None:
    """A process for each line around the command, from where the program has the signal in hand."""
    ended = python(place, AT_EVERY_LINE, "--help")
    assert "Traceback" not in ended.stderr, ended.stderr
    statuses = json.loads(ended.stdout.splitlines()[-1])
    assert len(statuses) > 20, ended.stderr
    assert set(statuses) == {130, -signal.SIGINT}


def python(place: Place, program: str, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run a program in Python that has the checkout's modules."""
    return in_checkout(place, sys.executable, "-c", program, *arguments)


def in_checkout(place: Place, *command: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        command,
        cwd=place.folder,
        env={**place.env, "PYTHONPATH": str(CHECKOUT)},
        capture_output=True,
        text=True,
        check=False,
    )


CHECKOUT = Path(__file__).resolve().parent.parent
SENDS = """
import os, signal, sys
module, number = sys.argv[1], int(sys.argv[2])
# Whoever runs the tests may have had it ignored.
if number != signal.SIGINT:
    signal.signal(number, signal.SIG_DFL)
class Sender:
    def find_spec(self, name, path=None, target=None):
        if name == module:
            os.kill(os.getpid(), number)
sys.argv = ["companion", *sys.argv[3:]]
sys.meta_path.insert(0, Sender())
from companion.start import main
sys.exit(main())
"""
"""Runs a command and sends itself a signal when a module is about to be loaded."""
AT_EVERY_LINE = """
import json, os, signal, sys
import companion.cli
from companion.start import main
sys.argv = ["companion", *sys.argv[1:]]
AROUND = ("start.py", "guarded.py")
statuses = []
while True:
    child = os.fork()
    if not child:
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        signal.signal(signal.SIGINT, signal.default_int_handler)
        left, in_hand = [len(statuses)], [False]
        def traced(frame, event, value):
            if os.path.basename(frame.f_code.co_filename) not in AROUND:
                return None
            in_hand[0] |= signal.getsignal(signal.SIGINT) == signal.SIG_DFL
            if event == "line" and in_hand[0]:
                left[0] -= 1
                if left[0] == -1:
                    sys.settrace(None)
                    os.kill(os.getpid(), signal.SIGINT)
            return traced
        sys.settrace(traced)
        try:
            status = main()
        except SystemExit as ending:
            status = ending.code
        os._exit(status if left[0] < 0 else 99)
    status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    if status == 99:
        break
    statuses.append(status)
print(json.dumps(statuses))
"""
"""Runs a command once for each line around it, and sends itself a signal there."""


def test_a_reader_that_goes_away_ends_it_without_a_word(place: Place) -> None:
    shell = f"{sys.executable} -m companion log schema | head -1; echo ${{PIPESTATUS[0]}}"
    ended = in_checkout(place, "bash", "-c", shell)
    assert ended.stderr == ""
    assert ended.stdout.splitlines()[-1] == "0"
