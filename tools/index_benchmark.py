"""A shop of many years, measured: ``python -m tools.index_benchmark [SESSIONS]``.

Nothing here is a test. A few invented jobs are typed as they would be called; their logs are then
written again and again, of other machines and on other days, with their chains whole. 10,000
sessions are five a working day for eight years.
"""

from __future__ import annotations

import hashlib
import json
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import psutil

from companion.files.data import DATA_VARIABLE
from companion.log.index import SessionIndex
from companion.log.index_file import INDEX_NAME
from companion.log.line import FIRST_PREV, LOG_NAME, decode
from companion.log.tip import Tip, write_tip
from companion.log.writer import LogWriter
from companion.session.opening import open_session
from companion.shelf.load import load_card, load_sheet

SESSIONS = 10_000
MACHINES = 400
"""So that a machine has a couple of dozen sessions."""

FIRST = datetime(2018, 3, 5, 8, 0, tzinfo=UTC)
JOBS = (
    ("four-stroke-service", "quillmoor-tiller"),
    ("four-stroke-service", "tarnfield-mower"),
    ("generator-load-check", "brackwater-generator"),
)
CALLS = (
    "complaint runs rough when hot", "serial number q t four four one seven",
    "engine hours 112 hours", "step done", "gap forty thou", "gap thirty thou",
    "compression one twenty psi", "drained eighteen ounces of oil", "air filter dirty",
    "cleaned air filter", "shear pin broken", "need two shear pins", "step done", "next",
    "added twenty ounces of oil", "oil level full", "affirm", "replaced spark plug",
    "used one spark plug",
    "note the cable is frayed at the lever",
    "battery twelve point six volts", "follow up carburetor", "start soak timer two minutes",
    "roger", "spec for gap", "read back readings", "tag fuel off", "clear tag fuel off", "affirm",
    "step done", "next", "clear to start", "close job", "affirm",
)  # fmt: skip
WORDS = ("cable", "governor", "primer", "recoil", "muffler", "spindle", "clutch", "tine", "chute")
"""One of them takes the place of "carburetor", so that sessions differ by a word."""


@dataclass(frozen=True, slots=True)
class Line:
    """A line of a log but for its time and its chain."""

    after: timedelta
    text: str


def main() -> None:
    """Make the sessions, measure and print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else SESSIONS
    print(f"{os.cpu_count()} cores, Python {sys.version.split()[0]}, {count} invented sessions")
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder)
        os.environ[DATA_VARIABLE] = folder
        began = time.perf_counter()
        size, records = make_shop(data, count)
        print(
            f"{records} records, {size / 1e6:.0f} MB of logs, "
            f"made in {time.perf_counter() - began:.0f} s"
        )
        measure(data)


def measure(data: Path) -> None:
    """Measure everything that the index is asked."""
    with SessionIndex(data) as index:
        passed, ran = _time(index.refresh)
        print(f"made from the logs in {passed:.0f} s, {ran:.0f} s of them on the processor")
        print(f"the index is {(data / INDEX_NAME).stat().st_size / 1e6:.0f} MB")
        _show("looking whether any log changed", index.refresh)
        _show("50 sessions of all, the latest first", index.sessions)
        _show("all sessions", lambda: index.sessions(limit=None))
        _show("50 sessions, searched by machine", lambda: index.sessions("mower 37"))
        _show("the last page of all sessions", lambda: index.sessions(offset=9_950))
        _show("all machines", index.machines)
        _show("a word that is in one session of nine", lambda: index.search("governor"))
        _show("a word that is in every session", lambda: index.search("thirty"))
        _show("two words", lambda: index.search("frayed lever"))
        _show("a word of one machine", lambda: index.search("gap", machine="Tiller 3"))
        name = index.machines()[0].name
        _grown(data, index, name)
    _show("opened and one page of sessions", lambda: _opened(data))
    memory = psutil.Process().memory_info().rss
    print(f"{'resident memory':<44} {memory / 1e6:7.0f} MB")


def _opened(data: Path) -> None:
    with SessionIndex(data) as index:
        index.sessions()


def _grown(data: Path, index: SessionIndex, machine: str) -> None:
    """A call is made in one session while the list is looked at."""
    folder = index.sessions(machine=machine).rows[0].folder

    def grow() -> None:
        with LogWriter.open(folder) as writer:
            record, _ = decode((folder / LOG_NAME).read_bytes().splitlines()[-1])
            writer.append([record.event], record.at)

    times = []
    for _ in range(5):
        grow()
        times.append(_time(index.sessions))
    _print("the list after a call in one session", times)


def make_shop(data: Path, count: int) -> tuple[int, int]:
    """Write that many sessions; how many bytes and records they have."""
    jobs = [list(_typed(data / f"typed-{number}", *job)) for number, job in enumerate(JOBS)]
    size = records = 0
    for number in range(count):
        lines = jobs[number % len(jobs)]
        at = FIRST + timedelta(minutes=96 * number)
        machine = f"{('Tiller', 'Mower', 'Generator')[number % len(jobs)]} {number % MACHINES}"
        folder = data / "sessions" / f"{at:%Y-%m-%d-%H%M}-{number}"
        size += _write(folder, lines, at, machine, WORDS[number % len(WORDS)])
        records += len(lines)
    return size, records


def _typed(folder: Path, card: str, sheet: str) -> Iterator[Line]:
    session = open_session(folder, at=FIRST, card=load_card(card), sheet=load_sheet(sheet))
    at = FIRST
    session.open(at)
    for call in CALLS:
        at += timedelta(seconds=40)
        while session.more_to_say:
            session.tick(at)
        session.typed(call, at)
    session.close()
    for raw in (folder / LOG_NAME).read_bytes().splitlines():
        line = json.loads(raw)
        text = json.dumps(
            {name: line[name] for name in ("kind", "data")},
            ensure_ascii=False,
            separators=(",", ":"),
        )
        yield Line(datetime.fromisoformat(line["at"]) - FIRST, text[1:-1])


def _write(folder: Path, lines: Sequence[Line], at: datetime, machine: str, word: str) -> int:
    folder.mkdir(parents=True)
    prev, raws = FIRST_PREV, []
    for seq, line in enumerate(lines, start=1):
        text = line.text.replace("carburetor", word) if "carburetor" in line.text else line.text
        if seq == 1:
            opened = json.loads(f"{{{text}}}")
            opened["data"]["machine"]["name"] = machine
            text = json.dumps(opened, ensure_ascii=False, separators=(",", ":"))[1:-1]
        raw = (
            f'{{"v":1,"seq":{seq},"at":"{(at + line.after).isoformat()}",{text},"prev":"{prev}"}}'
        ).encode()
        prev = hashlib.sha256(raw).hexdigest()
        raws.append(raw)
    whole = b"\n".join(raws) + b"\n"
    (folder / LOG_NAME).write_bytes(whole)
    write_tip(folder, Tip(len(raws), prev))
    return len(whole)


def _time(act: Callable[[], object]) -> tuple[float, float]:
    """Seconds that passed, and of them those on the processor: other work on the machine counts in
    the first alone."""
    began, ran = time.perf_counter(), time.process_time()
    act()
    return time.perf_counter() - began, time.process_time() - ran


def _show(what: str, act: Callable[[], object]) -> None:
    act()
    _print(what, [_time(act) for _ in range(9)])


def _print(what: str, times: Sequence[tuple[float, float]]) -> None:
    passed, ran = ([each[place] * 1000 for each in times] for place in (0, 1))
    print(
        f"{what:<44} {statistics.median(passed):7.1f} ms   least {min(passed):7.1f} ms   "
        f"processor {statistics.median(ran):7.1f} ms"
    )


if __name__ == "__main__":
    main()
