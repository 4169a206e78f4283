"""The screen at a real terminal: what is typed, what is drawn, and that the one disturbs not the
other."""

from __future__ import annotations

import os
import re
import signal
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from companion.log.reader import read_log
from tests.terminal import Terminal

TAGS = ("no oil", "plug wire off", "belt off", "no fuel", "drive open")
WORK = ("work", "--typed", "--quiet", "--job", "four-stroke-service", "--machine")
CLEAR, LEFT, UP, BACKSPACE = "\x15", "\x1b[D", "\x1b[A", "\x7f"
CTRL_C, CTRL_D = "\x03", "\x04"


def shop(folder: Path, **more: str) -> dict[str, str]:
    """The environment of a shop that keeps its data here."""
    (folder / "settings.toml").touch()
    return {
        **os.environ,
        "TERM": "xterm-256color",
        "BENCH_COMPANION_DATA": str(folder / "data"),
        "BENCH_COMPANION_SETTINGS": str(folder / "settings.toml"),
        **more,
    }


def prompt(terminal: Terminal) -> str | None:
    """What is being typed; None where no input line is drawn."""
    return next((line[2:] for line in terminal.lines if f"{line} ".startswith("› ")), None)


def pane(terminal: Terminal) -> str:
    """What stands below, in one line."""
    lines = terminal.lines
    rule = max((place for place, line in enumerate(lines) if line.startswith("─ ")), default=0)
    return re.sub(r"\s+", " ", " ".join(lines[rule:])).strip()


def call(terminal: Terminal, text: str) -> None:
    """Type a call and wait for its answer."""
    before = terminal.scrolled.count("heard ")
    terminal.type(f"{text}\r")
    terminal.wait(lambda: terminal.scrolled.count("heard ") > before and prompt(terminal) == "")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("shop")


@pytest.fixture(scope="module")
def bench(folder: Path) -> Iterator[Terminal]:
    """A session in which five tags hang and three timers run."""
    with Terminal(
        *WORK, "quillmoor-tiller", "--out", "job", environment=shop(folder), folder=folder
    ) as terminal:
        terminal.wait(lambda: terminal.lines[-1].startswith("STEP 1 of 42, take in"))
        for tag in TAGS:
            call(terminal, f"tag {tag}")
        for timer in ("soak timer 2 hours", "charge timer", "cure timer"):
            call(terminal, f"start {timer}")
        yield terminal


@pytest.fixture
def terminal(bench: Terminal) -> Iterator[Terminal]:
    """The same, with nothing typed yet."""
    yield bench
    bench.type(CLEAR)
    bench.wait(lambda: prompt(bench) == "")


ALL_OF_IT = re.compile(
    r"TAGS no oil, plug wire off, belt off, no fuel, drive open "
    r"TIMERS soak 1:\d\d:\d\d, charge 9:\d\d:\d\d, cure 23:\d\d:\d\d STEP 1 of 42"
)


def soak_left(terminal: Terminal) -> int:
    """Seconds, as the pane has them; waits until it has them."""
    face = re.compile(r"soak (\d+):(\d\d):(\d\d)")
    terminal.wait(lambda: face.search(pane(terminal)))
    found = face.search(pane(terminal))
    assert found is not None
    hours, minutes, seconds = map(int, found.groups())
    return (hours * 60 + minutes) * 60 + seconds


def test_all_tags_stand_before_all_timers_at_the_bottom(terminal: Terminal) -> None:
    terminal.wait(lambda: ALL_OF_IT.search(pane(terminal)))
    terminal.wait(lambda: terminal.lines[-1].startswith("STEP"))


def test_the_countdown_goes_on_while_half_a_call_is_typed(terminal: Terminal) -> None:
    terminal.type("gap thir")
    terminal.wait(lambda: prompt(terminal) == "gap thir")
    before = soak_left(terminal)
    terminal.wait(lambda: soak_left(terminal) <= before - 2)
    terminal.wait(lambda: prompt(terminal) == "gap thir")


def test_a_call_is_completed_its_unit_is_hinted_at_and_it_is_recorded(
    terminal: Terminal, folder: Path
) -> None:
    terminal.type("ga\t")
    terminal.wait("[gap]")
    terminal.wait(lambda: prompt(terminal) == "gap")
    terminal.type("30")
    terminal.wait("in thou, inches or millimeters")
    terminal.type(" \t")
    terminal.wait("[thou]")
    terminal.type("\r")
    terminal.wait("heard   “gap 30 thou”")
    terminal.wait("Gap, thirty, three zero, thou. In.")
    kinds = [record.event.kind for record in read_log(folder / "job").records]
    assert "reading" in kinds


def test_a_typo_is_mended_with_the_arrow_keys(terminal: Terminal) -> None:
    terminal.type("gap thirt thou" + LEFT * 5 + "y\r")
    terminal.wait("heard   “gap thirty thou”")


def test_the_up_arrow_brings_the_last_call_back(terminal: Terminal) -> None:
    call(terminal, "gap thirty thou")
    call(terminal, "gap 29 thou")
    terminal.type(UP)
    terminal.wait(lambda: prompt(terminal) == "gap 29 thou")
    terminal.type(UP)
    terminal.wait(lambda: prompt(terminal) == "gap thirty thou")


def test_nothing_typed_is_lost_when_a_timer_rings(terminal: Terminal) -> None:
    call(terminal, "start settle timer 1 second")
    terminal.type("gap 28 ")
    terminal.wait(lambda: "settle RINGS +0:0" in pane(terminal))
    terminal.wait("said    Settle timer rings.")
    terminal.wait(lambda: prompt(terminal) == "gap 28")
    terminal.type("thou\r")
    terminal.wait("heard   “gap 28 thou”")
    call(terminal, "roger")
    terminal.wait(lambda: "settle" not in pane(terminal))


def test_pasted_lines_are_calls_and_the_rest_stays_to_be_ended(terminal: Terminal) -> None:
    terminal.type("\x1b[200~gap 31 thou\r\ncompression 95 psi\ngap 2\x1b[201~")
    terminal.wait("heard   “gap 31 thou”")
    terminal.wait("heard   “compression 95 psi”")
    terminal.wait(lambda: prompt(terminal) == "gap 2")


def test_at_forty_columns_five_tags_and_three_timers_are_all_there(terminal: Terminal) -> None:
    terminal.type("gap thir")
    terminal.wait(lambda: prompt(terminal) == "gap thir")
    terminal.resize(40, 24)
    terminal.wait(lambda: "─ ready " + "─" * 32 in terminal.lines)
    terminal.wait(lambda: ALL_OF_IT.search(pane(terminal)))
    terminal.wait(lambda: prompt(terminal) == "gap thir")
    terminal.resize(80, 24)
    terminal.wait(lambda: "─ ready " + "─" * 72 in terminal.lines)


def test_the_open_question_stands_below_until_it_is_answered(terminal: Terminal) -> None:
    call(terminal, "close job")
    terminal.wait(lambda: "Close the job all the same? STEP" in pane(terminal))
    call(terminal, "negative")
    terminal.wait(lambda: "ASKED" not in pane(terminal))


def test_ctrl_d_in_a_call_begun_ends_nothing_and_on_an_empty_line_the_session(
    folder: Path,
) -> None:
    environment = shop(folder, NO_COLOR="1")
    with Terminal(
        "work", "--typed", "--quiet", "--out", "second", environment=environment, folder=folder
    ) as terminal:
        terminal.wait("Tab: what can be called")
        # Calls of the session before are kept, notes and what was no call are not.
        call(terminal, "note the owner wants it back")
        call(terminal, "what on earth")
        call(terminal, "tag no fuel")
        terminal.type("gap" + CTRL_D)
        terminal.wait(lambda: prompt(terminal) == "gap")
        terminal.type(CLEAR + CTRL_D)
        assert terminal.end() == 0
        assert "Session:" in terminal.text
        assert "TAGS" not in terminal.text
        # No color anywhere; the tags are told by their word, bold and reversed.
        assert not re.search(rb"\x1b\[[\d;]*\b(3[0-7]|4[0-7]|9[0-7])[;m]", terminal.drawn)
        assert b";7m" in terminal.drawn
    kept = (folder / "data" / "typed-calls.txt").read_text(encoding="utf-8").splitlines()
    assert kept[-1] == "tag no fuel"
    assert "tag no oil" in kept
    assert not any("owner" in line or "earth" in line for line in kept)


def test_ctrl_c_ends_at_once_and_leaves_the_terminal_as_it_was(folder: Path) -> None:
    with Terminal(
        "work", "--typed", "--quiet", "--out", "third", environment=shop(folder), folder=folder
    ) as terminal:
        terminal.wait("Tab: what can be called")
        terminal.type("gap thirty")
        terminal.wait(lambda: prompt(terminal) == "gap thirty")
        terminal.type(CTRL_C)
        assert terminal.end() == 130
        assert "stopped; everything acknowledged is in the log." in terminal.text
        assert "›" not in terminal.text
        assert not terminal.glass.cursor.hidden


def test_a_dumb_terminal_gets_plain_lines(folder: Path) -> None:
    environment = shop(folder, TERM="dumb")
    with Terminal(
        "work", "--typed", "--quiet", "--out", "fifth", environment=environment, folder=folder
    ) as terminal:
        terminal.type("tag no oil\n")
        terminal.wait("said    Tag hung: no oil.")
        terminal.type(CTRL_D)
        assert terminal.end() == 0
        assert b"\x1b" not in terminal.drawn


def microphone(way: str, folder: Path) -> Terminal:
    return Terminal(
        way,
        str(folder / way),
        environment=shop(folder, PYTHONPATH=os.pathsep.join(sys.path)),
        folder=folder,
        program=(sys.executable, "-m", "tests.at_the_microphone"),
    )


def test_with_the_key_the_pane_says_when_it_listens_and_shows_what_came_of_it(
    folder: Path,
) -> None:
    with microphone("key", folder) as terminal:
        terminal.wait(lambda: "waits for the key" in pane(terminal))
        terminal.wait(lambda: "TIMERS soak 1:59:" in pane(terminal))
        assert "›" not in terminal.text
        terminal.type(" ")
        terminal.wait(lambda: "listening" in pane(terminal))
        terminal.wait("heard   “tag no oil”")
        terminal.wait(lambda: "waits for the key" in pane(terminal))
        terminal.wait(lambda: "TAGS no oil TIMERS soak" in pane(terminal))
        terminal.type(CTRL_C)
        terminal.end()
        assert "stopped" in terminal.text


def test_open_mic_has_the_pane_and_no_input_line(folder: Path) -> None:
    with microphone("open", folder) as terminal:
        terminal.wait(lambda: "listening" in pane(terminal))
        before = soak_left(terminal)
        terminal.type("gap thirty thou\r")
        terminal.wait(lambda: soak_left(terminal) < before)
        assert "›" not in terminal.text
        assert "gap" not in terminal.text
        # Told to end from outside, it leaves the terminal as it found it.
        assert not terminal.echoes
        os.kill(terminal.pid, signal.SIGTERM)
        terminal.wait(lambda: terminal.echoes)
        assert terminal.end() == -signal.SIGTERM
        assert not terminal.glass.cursor.hidden
