"""A long day at the bench, measured: ``python -m tools.long_day [RECORDS] [DAY …]``.

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

from companion.files.data import DATA_VARIABLE
from companion.log.line import LOG_NAME
from companion.session.opening import open_session
from companion.session.other_timers import OtherTimers
from companion.session.session import Session
from companion.shelf.load import load_card, load_sheet

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
        latencies: Of each, in seconds of the clock on the wall, the disk's time with it.
        worked: Of each, in seconds of the processor.
        grown: How much more memory was held at the end than after the first thousand calls, in MB.
    """

    calls: int
    latencies: tuple[float, ...]
    worked: tuple[float, ...]
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
    for what, every in (("by the clock", figures.latencies), ("processor", figures.worked)):
        for number, few in enumerate(_in_thousands(every)):
            last = number * CALLS_AT_ONCE >= figures.calls - 2 * CALLS_AT_ONCE
            if number in (0, 1, 4, 9, 19) or last:
                _latency(what, number, few)
    print(f"  {'memory grown since the first thousand calls':<52} {figures.grown:7.1f} MB")
    ask(folder)


def ask(folder: Path) -> None:
    """Ask everything of a finished day's log, each in a program of its own."""
    for what, (ready, call) in ASKED.items():
        _asked(what, ready, call, folder)


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
    session.watch_other_timers(OtherTimers(session.folder))
    process = psutil.Process()
    latencies: list[float] = []
    processor: list[float] = []
    step = timedelta(hours=HOURS) / (count / 4)
    at = OPENED
    before = 0
    for text in calls(said):
        at += step
        began, worked = time.perf_counter(), time.process_time()
        session.typed(text, at)
        latencies.append(time.perf_counter() - began)
        processor.append(time.process_time() - worked)
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
    return Figures(len(latencies), tuple(latencies), tuple(processor), grown)


def _in_thousands(latencies: Sequence[float]) -> Iterator[tuple[float, ...]]:
    left = iter(latencies)
    while few := tuple(islice(left, CALLS_AT_ONCE)):
        yield few


def _latency(what: str, number: int, few: Sequence[float]) -> None:
    inner = statistics.quantiles(few, n=100) if len(few) > 1 else [few[0]] * 99
    told = f"calls from {number * CALLS_AT_ONCE + 1}, {what}: half, 95 %, 99 %"
    print(f"  {told:<52} {inner[49] * 1e3:7.1f} {inner[94] * 1e3:7.1f} {inner[98] * 1e3:7.1f} ms")


_IMPORTS = """
import sys, time
from datetime import datetime
from pathlib import Path
import companion.session.opening, companion.report.page
from companion.session.other_timers import OtherTimers
from companion.job.events import Trouble
from companion.log.check import check_log
from companion.log.index import SessionIndex
from companion.report.log_lines import log_lines
from companion.log.writer import LogWriter
from companion.web.board_follower import Follower
from companion.web.shop import Shop, key_of
folder = Path(sys.argv[1])
now = lambda: datetime.now().astimezone()
def one_call_more():
    with LogWriter.beside(folder) as writer:
        writer.append([Trouble(what="invented")], now())
"""
_TIMED = """
began, worked = time.perf_counter(), time.process_time()
{call}
ended, worked = time.perf_counter(), time.process_time() - worked
most = next(line for line in open("/proc/self/status") if line.startswith("VmHWM"))
print(ended - began, worked, most.split()[1])
"""
_SHOP = (
    "shop = Shop([folder]); shop.being_read(600); page = lambda: shop.view(key_of(folder)).turns"
)
_BOARD = "follower = Follower(folder, clock=now)"

ASKED = {
    "resume": ("", "companion.session.opening.resume_session(folder, at=now()).close()"),
    "report": ("", "companion.report.page.write_report(folder)"),
    "log check": ("", "assert check_log(folder).ok"),
    "log show": ("", "log_lines(folder)"),
    "its timers, at another bench": (
        "watch = OtherTimers(folder.parent / 'none')",
        "[watch.ring(now()) for _ in range(PARKED + 2)]".replace("PARKED", str(PARKED)),
    ),
    "the index made": ("index = SessionIndex()", "index.sessions()"),
    "the index, one call more": (
        "index = SessionIndex(); index.sessions(); one_call_more()",
        "index.sessions()",
    ),
    "history of the machine": (
        "index = SessionIndex(); index.sessions()",
        "index.machine(index.machines()[0].name)",
    ),
    "review page": (_SHOP, "page()"),
    "review page, one call more": (f"{_SHOP}; page(); one_call_more()", "page()"),
    "board": ("", f"{_BOARD}; follower.look()"),
    "board, one call more": (f"{_BOARD}; follower.look(); one_call_more()", "follower.look()"),
}
"""By what is asked of a finished day, in a program of its own: what stands ready, what is timed."""


def _asked(what: str, ready: str, call: str, folder: Path) -> None:
    program = f"{_IMPORTS}\n{ready}\n{_TIMED.replace('{call}', call)}"
    done = subprocess.run(
        [sys.executable, "-c", program, str(folder)], capture_output=True, text=True, check=False
    )
    if done.returncode:
        print(f"  {what:<52} failed: {done.stderr.strip().splitlines()[-1]}")
        return
    clock, processor, most = map(float, done.stdout.split())
    print(
        f"  {what:<40} {clock:7.2f} s, {processor:7.2f} s of them on the processor, "
        f"{most / 1e3:6.0f} MB at most"
    )


if __name__ == "__main__":
    main()
