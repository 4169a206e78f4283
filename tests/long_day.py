"""A long day at the bench, measured: ``python -m tests.long_day [RECORDS] [DAY …]``.

Nothing here is a test. Calls are typed into real sessions, ten simulated hours of them, with the
time passed in; what is printed are figures of this machine. A day is one of ``DAYS``; the mixed one
alone if none is named. 100,000 records are some twenty-five thousand calls, one each second and a
half: far more than anybody makes, so that whatever grows with the log is seen to grow.
"""

from __future__ import annotations

import gc
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import cycle, islice
from pathlib import Path

import psutil

from companion.elsewhere import Elsewhere
from companion.job.load import load_card, load_sheet
from companion.log.data import DATA_VARIABLE
from companion.log.line import LOG_NAME
from companion.session import Session, open_session

RECORDS = 100_000
OPENED = datetime(2026, 4, 13, 7, 30, tzinfo=UTC)
HOURS = 10
PARKED = 12
"""Other jobs that were put aside with a timer running."""

CALLS_AT_ONCE = 1000
"""Calls of which the latencies are told together."""

MIXED = (
    "gap {n} thou", "compression 1{n} psi", "drained {n} ounces of oil", "air filter dirty",
    "cleaned air filter", "need two shear pins", "added {n} ounces of oil", "oil level full",
    "affirm", "note the cable is frayed at the lever {n} times", "battery 12.{n} volts",
    "start soak timer {n} minutes", "step done", "next", "affirm", "read back gap", "roger",
    "spec for gap", "correction {n}", "used one spark plug", "follow up carburetor",
    "clear to start", "disregard", "engine hours 1{n} hours", "cancel soak timer",
    "the dog wants out", "tag fuel off", "clear tag fuel off", "affirm", "say again",
)  # fmt: skip
READINGS = (
    "gap {n} thou", "compression 1{n} psi", "battery 12.{n} volts", "engine hours 1{n} hours",
)  # fmt: skip
NOTES = (
    "note the cable is frayed at the lever {n} times", "complaint runs rough when hot {n}",
    "note ask the owner about the blade", "gap {n} thou",
)  # fmt: skip
CORRECTIONS = (
    "gap {n} thou", "correction {n}", "disregard", "compression 1{n} psi", "correction 9{n}",
    "drained {n} ounces of oil", "correction {n}", "disregard", "affirm", "disregard", "affirm",
)  # fmt: skip
TIMERS = (
    "tag fuel off", "start soak timer {n} minutes", "start cooling timer {n} minutes",
    "clear tag fuel off", "affirm", "roger", "cancel soak timer", "clear to start", "negative",
    "tag no oil", "removed spark plug", "how long is left on the cooling timer",
    "replaced spark plug",
)  # fmt: skip

DAYS = {
    "mixed": MIXED,
    "readings": READINGS,
    "notes": NOTES,
    "corrections": CORRECTIONS,
    "timers": TIMERS,
}
"""By name, what is called, over and over with another number each time."""


@dataclass(frozen=True, slots=True)
class Figures:
    """What a day came to.

    Attributes:
        calls: How many were made.
        latencies: Of each, in seconds of the wall clock.
        grown: How much more memory was held at the end than after the first thousand calls, in MB.
    """

    calls: int
    latencies: tuple[float, ...]
    grown: float


def main() -> None:
    """Work the days, measure and print."""
    wanted = sys.argv[1:]
    count = int(wanted.pop(0)) if wanted and wanted[0].isdigit() else RECORDS
    print(f"{os.cpu_count()} cores, Python {sys.version.split()[0]}, {count} records a day")
    for name in wanted or ["mixed"]:
        with tempfile.TemporaryDirectory() as folder:
            os.environ[DATA_VARIABLE] = folder
            measure(name, Path(folder), count)


def measure(name: str, data: Path, count: int) -> None:
    """Work one day and measure everything that is asked of its log afterwards."""
    folder = data / "sessions" / f"{name}-day"
    session = open_session(
        folder,
        at=OPENED,
        card=load_card("four-stroke-service"),
        sheet=load_sheet("quillmoor-tiller"),
    )
    park_jobs(data)
    figures = work_through(session, DAYS[name], count)
    session.close()
    size = (folder / LOG_NAME).stat().st_size / 1e6
    print(f"\n{name} day: {figures.calls} calls, {session.state.seq} records, {size:.0f} MB of log")
    for number, few in enumerate(_in_thousands(figures.latencies)):
        if number in (0, 1, 2, 4, 9, 14, 19, 24) or number * CALLS_AT_ONCE >= figures.calls - 2000:
            _latency(number, few)
    print(f"  {'memory grown since the first thousand calls':<52} {figures.grown:7.1f} MB")
    for what, call in ASKED.items():
        _asked(what, call, folder)


def park_jobs(data: Path) -> None:
    """Put other jobs aside, each with a timer that will ring here."""
    for number in range(PARKED):
        session = open_session(data / "sessions" / f"parked-{number}", at=OPENED)
        session.typed(f"start soak timer {20 + 40 * number} minutes", OPENED)
        session.typed("park job", OPENED)
        session.close()


def calls(said: Sequence[str]) -> Iterator[str]:
    """Yield calls without end, each time round with other numbers."""
    for number, text in enumerate(cycle(said)):
        yield text.format(n=10 + number % 83)


def work_through(session: Session, said: Sequence[str], count: int) -> Figures:
    """Make calls, as the live loop does, until the log holds so many records.

    Args:
        session: Just opened.
        said: What is called.
        count: Records.
    """
    session.watch_elsewhere(Elsewhere(session.folder))
    process = psutil.Process()
    latencies: list[float] = []
    step = timedelta(hours=HOURS) / (count / 4)
    at = OPENED
    before = 0
    for text in calls(said):
        at += step
        began = time.perf_counter()
        session.typed(text, at)
        latencies.append(time.perf_counter() - began)
        while session.tick(at) is not None:
            pass
        session.catch_up(at)
        if len(latencies) == CALLS_AT_ONCE:
            gc.collect()
            before = process.memory_info().rss
        if session.state.seq >= count:
            break
    gc.collect()
    grown = (process.memory_info().rss - before) / 1e6
    return Figures(len(latencies), tuple(latencies), grown)


def _in_thousands(latencies: Sequence[float]) -> Iterator[tuple[float, ...]]:
    left = iter(latencies)
    while few := tuple(islice(left, CALLS_AT_ONCE)):
        yield few


def _latency(number: int, few: Sequence[float]) -> None:
    inner = statistics.quantiles(few, n=100) if len(few) > 1 else [few[0]] * 99
    told = f"calls from {number * CALLS_AT_ONCE + 1}: half within, 95 %, 99 %"
    print(f"  {told:<52} {inner[49] * 1e3:7.1f} {inner[94] * 1e3:7.1f} {inner[98] * 1e3:7.1f} ms")


_ONE_MORE = (
    "from datetime import datetime; from companion.log.writer import LogWriter; "
    "from companion.job.events import Trouble; from time import perf_counter as clock; "
    "writer = LogWriter.beside(folder); "
    "writer.append([Trouble(what='invented')], datetime.now().astimezone()); writer.close(); "
)
_REVIEW = (
    "from companion.web.shop import Shop, key_of; shop = Shop([folder]); shop.being_read(600); "
    "from time import perf_counter as clock; began = clock(); "
    "_page = lambda: shop.view(key_of(folder)).turns; "
)
_BOARD = (
    "from datetime import datetime; from companion.web.board_follower import Follower; "
    "from time import perf_counter as clock; "
    "follower = Follower(folder, clock=lambda: datetime.now().astimezone()); "
)

ASKED = {
    "resume": (
        "from datetime import datetime; from companion.session import resume_session; "
        "resume_session(folder, at=datetime.now().astimezone()).close()"
    ),
    "report": "from companion.report.page import write_report; write_report(folder)",
    "log check": "from companion.log.check import check_log; assert check_log(folder).ok",
    "log show": "from companion.log.show import log_lines; log_lines(folder)",
    "timers of this job, at another bench": (
        "from companion.elsewhere import Elsewhere; from datetime import datetime; "
        "from companion.log.sessions import session_folders; "
        "watch = Elsewhere(folder.parent / 'none'); "
        "[watch.due(datetime.now().astimezone()) for _ in range(20)]"
    ),
    "the index made": ("from companion.log.index import SessionIndex; SessionIndex().sessions()"),
    "one call more, and the index": (
        "from companion.log.index import SessionIndex; index = SessionIndex(); index.sessions(); "
        + _ONE_MORE
        + "began = clock(); index.sessions()"
    ),
    "history of the machine": (
        "from companion.log.index import SessionIndex; "
        "index = SessionIndex(); index.machine(index.machines()[0].name)"
    ),
    "review page, its first look": _REVIEW + "_page()",
    "review page, one call more": (_REVIEW + "_page(); " + _ONE_MORE + "began = clock(); _page()"),
    "board, its first look": _BOARD + "follower.look()",
    "board, one call more": _BOARD + "follower.look(); " + _ONE_MORE + "began = clock(); "
    "follower.look()",
}
"""By what is asked of a finished day, the lines that ask it, in a program of their own."""

_TIMED = """
import sys, time
from pathlib import Path
folder = Path(sys.argv[1])
import companion.session, companion.report.page, companion.log.index
began = time.perf_counter()
{call}
ended = time.perf_counter()
most = next(line for line in open("/proc/self/status") if line.startswith("VmHWM"))
print(ended - began, most.split()[1])
"""


def _asked(what: str, call: str, folder: Path) -> None:
    program = _TIMED.replace("{call}", call)
    done = subprocess.run(
        [sys.executable, "-c", program, str(folder)], capture_output=True, text=True, check=False
    )
    if done.returncode:
        print(f"  {what:<52} failed: {done.stderr.strip().splitlines()[-1]}")
        return
    seconds, most = done.stdout.split()
    print(f"  {what:<52} {float(seconds):7.2f} s   {int(most) / 1e3:6.0f} MB at most")


if __name__ == "__main__":
    main()
