"""Session folders as somebody else may have made them: each differs from a good one in one thing.

The chain of every log is true all the same, so that nothing but what is in it can be the fault.
"""

from __future__ import annotations

import hashlib
import json
import os
import socket
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

Spoil = Callable[[Path], None]
"""Makes a good session folder a bad one."""


def chained(folder: Path, lines: list[bytes]) -> None:
    """Write a log of these lines, each with the hash of the one before, and its tip."""
    prev, whole = "0" * 64, []
    for line in lines:
        head, _, _ = line.rpartition(b'"prev":"')
        whole.append(head + b'"prev":"' + prev.encode() + b'"}')
        prev = hashlib.sha256(whole[-1]).hexdigest()
    (folder / "log.jsonl").write_bytes(b"".join(line + b"\n" for line in whole))
    (folder / "log.tip").write_text(f"{len(whole):012d} {prev}\n")


def lines_of(folder: Path) -> list[bytes]:
    return (folder / "log.jsonl").read_bytes().splitlines()


def changed(kind: str, change: Callable[[dict[str, Any]], None]) -> Spoil:
    """Change the data of the first record of a kind."""

    def spoil(folder: Path) -> None:
        lines = lines_of(folder)
        for place, line in enumerate(lines):
            record = json.loads(line)
            if record["kind"] == kind:
                change(record["data"])
                lines[place] = json.dumps(record, separators=(",", ":")).encode()
                break
        else:
            raise AssertionError(f"no {kind} in the log")
        chained(folder, lines)

    return spoil


def replaced(kind: str, old: str, new: str) -> Spoil:
    """Change the bytes of the first line of a kind."""

    def spoil(folder: Path) -> None:
        lines = lines_of(folder)
        for place, line in enumerate(lines):
            if f'"kind":"{kind}"'.encode() in line and old.encode() in line:
                lines[place] = line.replace(old.encode(), new.encode(), 1)
                break
        else:
            raise AssertionError(f"no {kind} with {old} in the log")
        chained(folder, lines)

    return spoil


def instead(make: Callable[[Path], object]) -> Spoil:
    """Put something else in the place of the log."""

    def spoil(folder: Path) -> None:
        (folder / "log.jsonl").unlink()
        make(folder / "log.jsonl")

    return spoil


def a_socket(path: Path) -> None:
    here = Path.cwd()
    # The name of a socket may have a hundred bytes.
    os.chdir(path.parent)
    try:
        with socket.socket(socket.AF_UNIX) as made:
            made.bind(path.name)
    finally:
        os.chdir(here)


def _to_another(path: Path) -> None:
    another = path.parent.parent / "another-log.jsonl"
    another.write_bytes(next(path.parent.parent.glob("good*/log.jsonl")).read_bytes())
    path.symlink_to(another)


def _blank_lines(path: Path) -> None:
    path.write_bytes(b"\n" * 40_000_000)


def _huge(path: Path) -> None:
    path.touch()
    os.truncate(path, 1 << 38)


def _first(text: bytes) -> Callable[[Path], object]:
    return lambda path: path.write_bytes(text)


DEEP = b'{"v":' + b"[" * 200_000

ODD_LOGS: Mapping[str, Spoil] = {
    "link to another log": instead(_to_another),
    "link to a device": instead(lambda path: path.symlink_to("/dev/zero")),
    "link to itself": instead(lambda path: path.symlink_to(path.name)),
    "FIFO": instead(os.mkfifo),
    "socket": instead(a_socket),
    "folder": instead(Path.mkdir),
    "larger than any log": instead(_huge),
    "blank lines only": instead(_blank_lines),
    "deep JSON": instead(_first(DEEP + b"\n")),
    "no UTF-8": instead(_first(b'{"v":1,"seq":1,\xff\xfe\n')),
}
"""What may stand in the place of a log, by its name."""

_NINES = "9" * 100_000


def _set(**values: Any) -> Callable[[dict[str, Any]], None]:
    return lambda data: data.update(values)


def _of_sheet(data: dict[str, Any]) -> None:
    data["machine"]["reading"] = [{"measure": "gap", "unit": "thou", "low": "1E+999999999"}]


def _unit_of_sheet(data: dict[str, Any]) -> None:
    data["machine"]["fluid"] = [{"name": "oil", "unit": "furlong", "capacity": "20"}]


ODD_RECORDS: Mapping[str, Spoil] = {
    "exponent": changed("reading", _set(value="1E+999999999")),
    "exponent below": changed("reading", _set(value="1E-999999999")),
    "exponent of nothing": changed("reading", _set(value="0E+999999999")),
    "long digits": changed("reading", _set(value=_NINES)),
    "long fraction": changed("reading", _set(value=f"0.{_NINES}")),
    "exponent of a fluid": changed("fluid", _set(value="1E+999999999")),
    "exponent of a window": changed(
        "reading",
        _set(window={"low": "1E+999999999", "high": None, "unit": "thou", "source": "invented"}),
    ),
    "exponent beyond": changed("reading", _set(verdict="low", beyond="1E+999999999")),
    "exponent of what was earlier": changed(
        "session.opened",
        _set(
            earlier=[
                {
                    "measure": "gap",
                    "value": "1E+999999999",
                    "unit": "thou",
                    "verdict": "in",
                    "at": "2026-03-01T09:00:00+01:00",
                    "session": "before",
                }
            ]
        ),
    ),
    "exponent of the sheet": changed("session.opened", _of_sheet),
    "unknown unit of the sheet": changed("session.opened", _unit_of_sheet),
    "float beyond": replaced("reading", '"si":{"value":', '"si":{"value":1e999, "value":'),
    "infinite float": changed("reading", lambda data: data["si"].update(value=1e308)),
    "infinite SI": replaced("heard", '"confidence":', '"decode_seconds":1e999,"confidence":'),
    "whole number beyond": changed("part.needed", _set(count=10**4000)),
    "whole number of digits": replaced("part.needed", '"count":2', f'"count":{_NINES}'),
    "pointer beyond": changed("reading", _set(corrects=10**30)),
    "unknown unit": changed("reading", _set(unit="furlong")),
    "unit of another kind": changed("reading", _set(unit="psi")),
    "unknown unit of a fluid": changed("fluid", _set(unit="furlong")),
    "unknown unit of a window": changed(
        "reading", _set(window={"low": "1", "high": None, "unit": "furlong", "source": "invented"})
    ),
    "time before all clocks": replaced("reading", '"at":"2026', '"at":"0001'),
    "time after all clocks": replaced("reading", '"at":"2026', '"at":"9999'),
    "timer without an offset": changed("timer.started", _set(due="2026-03-02T11:00:00")),
    "timer after all clocks": changed("timer.started", _set(due="9999-12-31T23:59:59+00:00")),
    "timer of an age": changed("timer.started", _set(seconds=1e300)),
    "half a character": replaced("note", '"text":"', '"text":"\\ud800'),
    "half a character in a part": replaced("part.needed", '"part":"', '"part":"\\ud800'),
    "half a character in the name": changed("session.opened", _set(machine_name="\ud800")),
    "a line of a megabyte": changed("heard", _set(text="gap thirty thou " * 60_000)),
    "an answer of a megabyte": changed("said", _set(text="gap thirty thou " * 60_000)),
    "a note of a megabyte": changed("note", _set(text="thirty thou " * 80_000)),
    "deep card": changed(
        "session.opened", lambda data: data["card"].update(step=json.loads("[" * 500 + "]" * 500))
    ),
}
"""What a record may hold that no bench writes, by its name."""
