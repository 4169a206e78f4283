"""What a sound library prints by itself stays off the terminal, and nothing of ours is lost."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

NATIVE = """
import ctypes, faulthandler, os, sys, threading, warnings
from companion.audio.native_words import part_standard_error
from companion.plain_print import plain_print

library = ctypes.CDLL(None)
before = sys.stderr
{first}
with plain_print():
    held = sys.stderr
    print("ours before", file=held)
    part_standard_error()
    part_standard_error()
    library.dprintf(2, b"ALSA lib pcm.c: underrun occurred\\n")
    print("ours \\x1b[31m", file=held)
    print("held from before", file=before)
    warnings.warn("a warning")
    thread = threading.Thread(target=lambda: 1 / 0)
    thread.start()
    thread.join()
    print("plain", flush=True)
library.dprintf(2, b"jack server is not running\\n")
raise ValueError("the last words")
"""


def run(
    tmp_path: Path, *python: str, first: str = "", named: bool = True, script: str = NATIVE
) -> subprocess.CompletedProcess[str]:
    environment = {name: text for name, text in os.environ.items() if name != "PYTHONUNBUFFERED"}
    environment["PYTHONPATH"] = str(Path(__file__).resolve().parent.parent)
    if named:
        environment["BENCH_COMPANION_SOUND_LOG"] = str(tmp_path / "sound.log")
    return subprocess.run(
        [sys.executable, *python, "-c", script.format(first=first)],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.parametrize("python", [(), ("-u",), ("-X", "faulthandler")])
def test_native_lines_are_kept_off_and_ours_all_stay(
    tmp_path: Path, python: tuple[str, ...]
) -> None:
    ran = run(tmp_path, *python)
    assert ran.stdout == "plain\n"
    assert ran.stderr.startswith("ours before\nours \ufffd[31m\nheld from before\n")
    for ours in ("a warning", "ZeroDivisionError", "ValueError: the last words"):
        assert ours in ran.stderr
    assert "ALSA" not in ran.stderr
    assert "jack" not in ran.stderr
    log = (tmp_path / "sound.log").read_text(encoding="utf-8")
    assert log == "ALSA lib pcm.c: underrun occurred\njack server is not running\n"
    assert (tmp_path / "sound.log").stat().st_mode & 0o777 == 0o600


def test_without_a_place_for_them_they_are_thrown_away(tmp_path: Path) -> None:
    ran = run(tmp_path, named=False)
    assert "ALSA" not in ran.stderr
    assert "the last words" in ran.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_link_in_the_place_of_the_sound_log_is_not_followed(tmp_path: Path) -> None:
    (tmp_path / "other").write_text("kept", encoding="utf-8")
    (tmp_path / "sound.log").symlink_to(tmp_path / "other")
    assert "the last words" in run(tmp_path).stderr
    assert (tmp_path / "other").read_text(encoding="utf-8") == "kept"


def test_standard_error_that_somebody_took_over_is_left_alone(tmp_path: Path) -> None:
    ran = run(tmp_path, first="import io; sys.stderr = io.StringIO()")
    assert "ALSA lib" in ran.stderr


CLOSED = """
import ctypes, os
from companion.audio.native_words import part_standard_error
part_standard_error()
file = os.open({place!r}, os.O_WRONLY | os.O_CREAT, 0o600)
ctypes.CDLL(None).dprintf(2, b"ALSA lib\\n")
os.write(file, b"a record\\n")
"""


def test_with_standard_error_closed_nothing_native_gets_into_a_file(tmp_path: Path) -> None:
    """The next file that is opened, a log perhaps, would have the number of standard error."""
    place = tmp_path / "log"
    subprocess.run(
        ["/bin/sh", "-c", '"$0" -c "$1" 2>&-', sys.executable, CLOSED.format(place=str(place))],
        env={**os.environ, "PYTHONPATH": str(Path(__file__).resolve().parent.parent)},
        check=True,
    )
    assert place.read_text(encoding="utf-8") == "a record\n"


LISTENS = """
from companion.audio.files import SoundUnreadable, read_sound
try:
    read_sound({path!r})
except SoundUnreadable:
    print("refused", flush=True)
"""
SPEAKS = """
from companion.settings import Settings
from companion.speak.voice import open_voice
open_voice(Settings(), quiet=True)
print("refused", flush=True)
"""


@pytest.mark.parametrize("script", [LISTENS, SPEAKS], ids=["decoder", "voice"])
def test_decoder_and_voice_print_nothing_by_themselves(script: str, tmp_path: Path) -> None:
    (tmp_path / "noise.mp3").write_bytes(bytes(range(7, 207)) * 2)
    ran = subprocess.run(
        [sys.executable, "-c", script.replace("{path!r}", repr(str(tmp_path / "noise.mp3")))],
        env={
            **os.environ,
            "PYTHONPATH": str(Path(__file__).resolve().parent.parent),
            "HOME": "/" + "n" * 300,
        },
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.stdout == "refused\n", ran.stderr
    assert ran.stderr == ""
