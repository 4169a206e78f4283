"""Typed calls come through whatever else stands in the input, and its end is always noticed."""

from __future__ import annotations

import io
import os
import queue
from pathlib import Path

import pytest

from companion.files.limits import LONGEST_TYPED, MOST_WITHOUT_END
from companion.live.happenings import Device, Happening, Line
from companion.live.reading import read_lines
from companion.live.typed_lines import NO_LINES, TOO_LONG, InputLost, typed_lines
from tests.conftest import Run

GAP, TAG = "gap thirty thou", "tag plug wire off"


def stream(data: bytes, encoding: str = "utf-8") -> io.TextIOWrapper:
    return io.TextIOWrapper(io.BytesIO(data), encoding=encoding)


def happenings(data: bytes, encoding: str = "utf-8") -> list[Happening]:
    out: queue.SimpleQueue[Happening] = queue.SimpleQueue()
    read_lines(stream(data, encoding), out).join(60)
    return [out.get_nowait() for _ in range(out.qsize())]


@pytest.mark.parametrize(
    ("data", "lines"),
    [
        (f"{GAP}\n{TAG}\n".encode(), [GAP, TAG]),
        (f"{GAP}\r\n{TAG}".encode(), [GAP, TAG]),
        (f"{GAP}\r{TAG}\r".encode(), [GAP, TAG]),
        (f"{GAP}\n{TAG}\n".encode("utf-8-sig"), [GAP, TAG]),
        (f"{GAP}\r\n{TAG}\r\n".encode("utf-16"), [GAP, TAG]),
        (f"{GAP}\r\n{TAG}\r\n".encode("utf-16-le"), [GAP, TAG]),
        (f"{GAP}\n{TAG}\n".encode("utf-16-be"), [GAP, TAG]),
        (b"\xff\xfe\xfd\n" + GAP.encode(), ["\ufffd\ufffd\ufffd", GAP]),
        (b"\xff\n\xfe\xff\n" + f"{GAP}\n".encode(), ["\ufffd", "\ufffd\ufffd", GAP]),
        (b"note \xff\xfe x\n" + f"{GAP}\n".encode(), ["note \ufffd\ufffd x", GAP]),
        (b"note \xed\xa0\x80\n" + GAP.encode(), ["note \ufffd\ufffd\ufffd", GAP]),
        (
            b"no\0te \x1b[2J \x9b \x7f\tx\n" + GAP.encode(),
            ["no\ufffdte \ufffd[2J \ufffd \ufffd x", GAP],
        ),
        ("note für Zoë\n".encode(), ["note für Zoë"]),
        (b"\n\n\n", ["", "", ""]),
        (b"", []),
    ],
)
def test_lines_of_any_input(data: bytes, lines: list[str]) -> None:
    for encoding in ("utf-8", "ascii"):
        assert list(typed_lines(stream(data, encoding))) == lines


def test_bytes_of_the_declared_encoding_are_read_by_it() -> None:
    assert list(typed_lines(stream("note für\n".encode("latin-1"), "latin-1"))) == ["note für"]


@pytest.mark.parametrize("long", [LONGEST_TYPED + 1, 100_000, 2_000_000])
def test_a_line_that_is_too_long_is_left_out_with_one_sentence(long: int) -> None:
    assert happenings(f"{GAP}\n{'x' * long}\n{TAG}\n".encode()) == [
        Line(GAP),
        Device(TOO_LONG),
        Line(TAG),
        Line(None),
    ]


def test_a_line_without_end_is_not_read_for_ever() -> None:
    found = happenings(b"\0" * (MOST_WITHOUT_END + 200_000))
    assert found == [Device(TOO_LONG), Device(NO_LINES), Line(None)]


def test_an_input_that_fails_is_told_and_ends(tmp_path: Path) -> None:
    folder = os.open(tmp_path, os.O_RDONLY)
    reading, writing = os.pipe()
    os.write(writing, f"{GAP}\n".encode())
    with os.fdopen(reading) as source:
        lines = typed_lines(source)
        assert next(lines) == GAP
        # From here on it is a folder, which nobody can read.
        os.dup2(folder, reading)
        with pytest.raises(InputLost, match="directory"):
            next(lines)
    os.close(writing)
    os.close(folder)


def test_an_input_that_does_not_wait_is_waited_for() -> None:
    reading, writing = os.pipe()
    os.set_blocking(reading, False)
    out: queue.SimpleQueue[Happening] = queue.SimpleQueue()
    with os.fdopen(reading) as source:
        thread = read_lines(source, out)
        os.write(writing, f"{GAP}\n".encode())
        assert out.get(timeout=60) == Line(GAP)
        os.close(writing)
        thread.join(60)
    assert out.get(timeout=60) == Line(None)


def test_a_session_goes_on_after_anything_that_was_typed(companion: Run, tmp_path: Path) -> None:
    typed = b"\xff\xfe\xfd\n\0\0\n\x1b[A\r" + b"gap " * 250_000 + b"\n" + GAP.encode() + b"\xff\n"
    typed += f"{GAP}\ntag no oil\n".encode()
    run = companion("work", "--typed", "--quiet", "--out", "job", typed=typed)
    assert run.returncode == 0, run.stderr
    assert TOO_LONG in run.stderr
    assert "tag.hung" in (tmp_path / "job" / "log.jsonl").read_text()
    assert "30" in run.stdout
