"""What was printed and what is in the log, read by plain JSON and SHA-256 alone.

Nothing of the program is used here: a fault in its own reader must not hide what it lost.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

LINE = re.compile(r"(?:\d\d:\d\d:\d\d|        )  (heard|record|said|source) +(.*)")
HEARD = re.compile("“(.*)”")
DATE_TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,6})?(Z|[+-]\d\d:\d\d)")

Entry = tuple[str, str]
"""What a record is, and its words: "heard", "said", or "record" with no words."""


@dataclass(frozen=True, slots=True)
class Log:
    """A log as it lies on the disk.

    Attributes:
        entries: Of the whole lines that chain up from the first.
        raw: Those lines, each with its line feed.
        rest: Everything after them.
        why: Why the next line is none of them; empty where there is none.
    """

    entries: tuple[Entry, ...]
    raw: bytes
    rest: bytes
    why: str


def read(folder: Path) -> Log:
    """Read the log of a session folder as far as its chain holds."""
    try:
        data = (folder / "log.jsonl").read_bytes()
    except FileNotFoundError:
        return Log((), b"", b"", "no log")
    entries: list[Entry] = []
    prev, place, why = "0" * 64, 0, ""
    while (end := data.find(b"\n", place)) >= 0:
        raw = data[place:end]
        why = _fault(raw, len(entries) + 1, prev)
        if why:
            break
        line = json.loads(raw)
        kind = line["kind"]
        said = kind in ("heard", "said")
        entries.append((kind, line["data"]["text"]) if said else ("record", ""))
        prev, place = hashlib.sha256(raw).hexdigest(), end + 1
    return Log(tuple(entries), data[:place], data[place:], why)


def _fault(raw: bytes, number: int, prev: str) -> str:
    try:
        line = json.loads(raw.decode())
    except ValueError:
        return f"line {number} is no JSON"
    if not isinstance(line, dict) or set(line) != {"v", "seq", "at", "kind", "data", "prev"}:
        return f"line {number} has other keys"
    if line["seq"] != number:
        return f"line {number} has the number {line['seq']}"
    if line["prev"] != prev:
        return f"line {number} does not follow from the one before"
    if not DATE_TIME.fullmatch(line["at"]):
        return f"line {number} has the time {line['at']}"
    return ""


def printed(out: str) -> list[Entry]:
    """What a program read back, from what it printed; a line without its end does not count."""
    entries: list[Entry] = []
    for text in out.split("\n")[:-1]:
        line = LINE.fullmatch(text)
        if line is None or line[1] == "source":
            continue
        if line[1] == "record":
            entries.append(("record", ""))
        elif line[1] == "said":
            entries.append(("said", line[2]))
        elif (words := HEARD.match(line[2])) is not None:
            entries.append(("heard", words[1]))
        else:
            entries.append(("record", ""))
    return entries


def lost(read_back: Sequence[Entry], log: Sequence[Entry], *, in_order: bool = True) -> list[Entry]:
    """What was read back and does not stand in the log.

    Args:
        read_back: What one program printed.
        log: Of the log.
        in_order: Whether it must stand there in that order; what others wrote beside is printed
            later than what was written after it.
    """
    if not in_order:
        return list((Counter(map(_plain, read_back)) - Counter(map(_plain, log))).elements())
    missing: list[Entry] = []
    place = 0
    for entry in read_back:
        found = place
        while found < len(log) and _plain(entry) != _plain(log[found]):
            found += 1
        if found == len(log):
            missing.append(entry)
        else:
            place = found + 1
    return missing


def _plain(entry: Entry) -> Entry:
    # What was heard and is no call is printed, and kept, without its words.
    return ("record", "") if entry == ("heard", "") else entry


def untidy(err: str) -> list[str]:
    """Lines on standard error that are no sentence of the program."""
    return [line for line in err.splitlines() if line and not line.startswith("companion: ")]
