"""The real program run in a moment: loaded once, forked for every run, watched from outside."""

from __future__ import annotations

import gc
import io
import os
import random
import re
import select
import shutil
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TextIO, cast

from tools.faults import outside
from tools.faults.layer import NOTHING_WRONG, Layer, Plan

PATIENCE = 60.0
"""Seconds after which a run counts as hung."""
SEPARATOR = "\x1e"
"""Before the exit status of each command of a run, in what it prints."""

WORK = ("work", "--typed", "--quiet")
CALLS = (
    "gap thirty thou",
    "correction thirty one thou",
    "drained eighteen ounces of oil",
    "start soak timer two hours",
    "tag plug wire off",
    "note the cable is frayed",
    "added ten ounces of oil",
    "oil level full",
    "affirm",
    "park job",
)
AGAIN = (("resume", "--typed", "--quiet"), ("log", "check"))
"""What shows that a session can be gone on with."""
ANOTHER = "compression one twenty p s i"


def lines(calls: Sequence[str]) -> str:
    """Calls as they are typed."""
    return "".join(f"{call}\n" for call in calls)


Commands = Sequence[Sequence[str | Path] | Plan | Callable[[], int]]
"""What is run, one after the other in one process: commands of the program, or functions that use
it; a plan goes for what comes after it."""


@dataclass(frozen=True, slots=True)
class Run:
    """What came of a run.

    Attributes:
        statuses: Of the commands that ended by themselves.
        ended: How the process ended: its exit status, or minus the signal that killed it.
        hung: Whether it had to be ended.
        out: What it printed.
        err: What it printed on standard error.
        changes: Calls that changed something.
        failing: Calls that could have failed.
        bytes: Written.
        syncs: Calls that synced.
        failed: Calls that were made to fail.
    """

    statuses: tuple[int, ...]
    ended: int
    hung: bool
    out: str
    err: str
    changes: int
    failing: int
    bytes: int
    syncs: int
    failed: int


@dataclass
class Tally:
    """What came of all runs of one kind."""

    kind: str
    runs: int = 0
    acknowledged: int = 0
    lost: int = 0
    tracebacks: int = 0
    refused: int = 0
    seconds: float = 0.0
    told: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    checked: int = 0

    def tell(self, what: str) -> None:
        """Keep what went wrong, the first of it."""
        if len(self.told) < 40:
            self.told.append(f"{self.kind}: {what}")

    def add(self, other: Tally) -> None:
        """Take in what another process counted."""
        self.runs += other.runs
        self.acknowledged += other.acknowledged
        self.lost += other.lost
        self.tracebacks += other.tracebacks
        self.refused += other.refused
        self.seconds = max(self.seconds, other.seconds)
        self.told += other.told
        self.notes += [line for line in other.notes if line not in self.notes]
        self.checked += other.checked


class Running:
    """A place for sessions, and the program to run in it.

    Args:
        scratch: A folder of this process alone.
        share: Which share of the runs this process does.
        shares: How many there are.
        seed: What every random choice follows from.
    """

    def __init__(self, scratch: Path, share: int, shares: int, seed: int) -> None:
        self.scratch = scratch
        self.share, self.shares = share, shares
        self.random = random.Random(seed * 1000 + share)
        self.layer = Layer()
        self.root = scratch / "shop"
        self._number = 0
        # Settings that everyone may read, and that no fault touches.
        (scratch / "settings.toml").write_text("")
        (scratch / "settings.toml").chmod(0o644)
        load(scratch)

    def mine(self, many: Sequence[Any]) -> Sequence[Any]:
        """The share of this process."""
        return many[self.share :: self.shares]

    def fresh(self, root: Path | None = None) -> None:
        """Begin with an empty shop."""
        self.root = self.scratch / "shop" if root is None else root
        shutil.rmtree(self.for_now, ignore_errors=True)
        self.for_now.mkdir()
        self.for_now.chmod(0o777)
        if root is None:
            shutil.rmtree(self.root, ignore_errors=True)
            self.root.mkdir()

    @property
    def data(self) -> Path:
        """The data folder of the shop."""
        return self.root / "data"

    @property
    def for_now(self) -> Path:
        """The system's folder for what is kept for a while: on no disk that a fault touches."""
        return self.scratch / "for-now"

    def sessions(self) -> list[Path]:
        """The session folders there are: those of the shop, then those that stand elsewhere for
        now, because nothing could be written in the shop any more."""
        here = (self.data / "sessions").glob("*")
        return [*sorted(here), *sorted(self.for_now.glob("*/*"))]

    def last_log(self) -> Path | None:
        """The folder whose log has the most records: one that was lost while in use went on in
        another with all of them, and what was killed at its beginning has a folder, too."""
        return max(self.sessions(), key=lambda each: len(outside.read(each).entries), default=None)

    def start(
        self,
        commands: Commands,
        typed: str = "",
        plan: Plan = NOTHING_WRONG,
        user: int | None = None,
        then: str = "",
    ) -> Started:
        """Start commands, one after the other in one process."""
        self._number += 1
        name = f"{self._number}"
        into = self.scratch / f"typed-{name}"
        into.write_text(typed)
        started = Started(self, name, self.layer)
        self.layer.forget()
        pid = os.fork()
        if not pid:
            self._child(commands, into, started, plan, user, then)
        started.pid = pid
        return started

    def run(
        self,
        commands: Commands,
        typed: str = "",
        plan: Plan = NOTHING_WRONG,
        user: int | None = None,
        meanwhile: Callable[[Started], None] | None = None,
        then: str = "",
    ) -> Run:
        """Run commands to their end.

        Args:
            commands: One after the other in one process.
            typed: What is on its standard input.
            plan: What goes wrong.
            user: Who runs it; this user if left out.
            meanwhile: What is done to it while it runs.
            then: What is typed after the next plan of the commands.
        """
        started = self.start(commands, typed, plan, user, then)
        if meanwhile is not None:
            meanwhile(started)
        return started.ended()

    def _child(
        self,
        commands: Commands,
        into: Path,
        started: Started,
        plan: Plan,
        user: int | None,
        then: str,
    ) -> None:
        status = 1
        try:
            for place, (path, flags) in enumerate(
                (
                    (into, os.O_RDONLY),
                    (started.out_path, os.O_WRONLY | os.O_CREAT | os.O_APPEND),
                    (started.err_path, os.O_WRONLY | os.O_CREAT | os.O_APPEND),
                )
            ):
                descriptor = os.open(path, flags, 0o666)
                os.dup2(descriptor, place)
                os.close(descriptor)
            os.environ["BENCH_COMPANION_DATA"] = str(self.data)
            os.environ["BENCH_COMPANION_SETTINGS"] = str(self.scratch / "settings.toml")
            os.environ["TMPDIR"] = str(self.for_now)
            tempfile.tempdir = None
            os.chdir(self.scratch)
            if user is not None:
                os.setgid(user)
                os.setuid(user)
            time.tzset()
            # Between commands Ctrl-C ends the process, as it does a shell's list of commands.
            signal.signal(signal.SIGINT, signal.SIG_DFL)
            for name, place, mode in (("stdin", 0, "r"), ("stdout", 1, "w"), ("stderr", 2, "w")):
                setattr(sys, name, os.fdopen(place, mode, closefd=False))
            self.layer.begin(self.root, plan)
            for command in commands:
                if isinstance(command, Plan):
                    self.layer.begin(self.root, command)
                    sys.stdin = _input(then)
                    continue
                if callable(command):
                    status = command()
                else:
                    status = _command([str(word) for word in command])
                print(f"{SEPARATOR}{status}", flush=True)
        except SystemExit as ending:
            status = ending.code if isinstance(ending.code, int) else 1
        except BaseException:
            traceback.print_exc()
        finally:
            for stream in (sys.stdout, sys.stderr):
                try:
                    stream.flush()
                except (OSError, ValueError):
                    status = status or 120
            os._exit(status)


class Started:
    """A run that goes on."""

    def __init__(self, running: Running, name: str, layer: Layer) -> None:
        self.pid = 0
        self._in = running.scratch / f"typed-{name}"
        self.out_path = running.scratch / f"out-{name}"
        self.err_path = running.scratch / f"err-{name}"
        self._layer = layer
        self._until = time.monotonic() + PATIENCE

    def out(self) -> str:
        """What it has printed so far."""
        try:
            return self.out_path.read_text(errors="replace")
        except FileNotFoundError:
            return ""

    def goes_on(self, seconds: float) -> bool:
        """Wait; whether it still goes on after that."""
        watched = os.pidfd_open(self.pid)
        try:
            return not select.select([watched], [], [], seconds)[0]
        finally:
            os.close(watched)

    def send(self, number: int) -> None:
        """Send it a signal."""
        os.kill(self.pid, number)

    def ended(self) -> Run:
        """Wait for its end."""
        hung = self.goes_on(max(0.0, self._until - time.monotonic()))
        if hung:
            os.kill(self.pid, signal.SIGKILL)
        _, status = os.waitpid(self.pid, 0)
        out = self.out()
        err = self.err_path.read_text(errors="replace") if self.err_path.exists() else ""
        for path in (self._in, self.out_path, self.err_path):
            path.unlink(missing_ok=True)
        statuses = [text for text in out.split("\n") if text.startswith(SEPARATOR)]
        counts = self._layer.counts
        return Run(
            tuple(int(text[1:]) for text in statuses),
            os.waitstatus_to_exitcode(status),
            hung,
            out,
            err,
            counts.changes,
            counts.failing,
            counts.bytes,
            counts.syncs,
            counts.failed,
        )


def _input(text: str) -> TextIO:
    """A standard input that holds a text."""
    file = tempfile.TemporaryFile("w+", encoding="utf-8")  # noqa: SIM115 (as long as the process)
    file.write(text)
    file.seek(0)
    return cast(TextIO, file)


def _command(arguments: list[str]) -> int:
    from companion.start import main

    sys.argv = ["companion", *arguments]
    signal.signal(signal.SIGINT, signal.default_int_handler)
    return main()


def load(scratch: Path) -> None:
    """Load the program. What depends on no file of the shop is made once: the grammar of a job, and
    the words of the command line."""
    import companion.cli
    import companion.session.listened_for
    from companion.enroll.ways_file import ways_of
    from companion.errors import CompanionError
    from companion.grammar.files import shipped_grammar
    from companion.handbook.units import load_registry
    from companion.log import check
    from companion.report import log_lines
    from companion.shelf.rules import shipped_rules
    from companion.shipped import shipped

    assert check
    assert log_lines
    load_registry()
    for file in sorted(shipped("grammars").glob("*.gram")):
        shipped_grammar(file.stem)
    session: Any = companion.session.listened_for
    compile_grammar, kept = session.grammar_of, {}

    def grammar_of(vocabulary: Any, own_ways: Any, dangers: Any) -> Any:
        try:
            key = (repr(vocabulary), own_ways.read())
        except CompanionError:
            return compile_grammar(vocabulary, own_ways, dangers)
        if key not in kept:
            kept[key] = compile_grammar(vocabulary, own_ways, dangers)
        return kept[key]

    session.grammar_of = grammar_of
    from companion.shelf.load import load_card, load_sheet
    from companion.shelf.words import vocabulary_of

    for card, sheet in ((None, None), ("four-stroke-service", "quillmoor-tiller")):
        vocabulary = vocabulary_of(
            load_card(card) if card else None, load_sheet(sheet) if sheet else None, "bench"
        )
        grammar_of(vocabulary, ways_of(None), shipped_rules().dangers)
    parser = companion.cli.command_parser()
    companion.cli.command_parser = lambda: parser
    _rehearse(scratch)
    gc.collect()
    gc.freeze()


def _rehearse(scratch: Path) -> None:
    """Go once through all that is run later, so that what is made at its first use is there."""
    rehearsal = scratch / "rehearsal"
    rehearsal.mkdir()
    kept = sys.stdin, sys.stdout
    os.environ["BENCH_COMPANION_DATA"] = str(rehearsal)
    os.environ["BENCH_COMPANION_SETTINGS"] = str(scratch / "settings.toml")
    try:
        for command in (WORK, *AGAIN, ("sessions",)):
            sys.stdout = io.StringIO()
            sys.stdin = _input(lines(CALLS if command is WORK else [ANOTHER]))
            if _command(list(command)):
                raise RuntimeError(f"the rehearsal of {command} failed")
    finally:
        sys.stdin, sys.stdout = kept
        shutil.rmtree(rehearsal)


# --- what is looked at after every run ------------------------------------------------------------
def judge(
    running: Running,
    tally: Tally,
    run: Run,
    *,
    may_refuse: bool = True,
    lists: bool = False,
    in_order: bool = True,
    note: str = "",
) -> None:
    """Look at what a run left: nothing acknowledged is lost, the log opens and goes on.

    Args:
        running: Where it ran.
        tally: What is counted in.
        run: What came of it.
        may_refuse: Whether a command of it may have ended with a sentence.
        lists: Whether the lists are called for too.
        in_order: As for ``outside.lost``.
        note: What went wrong in it, for the telling.
    """
    tally.runs += 1
    untidy_in(tally, run, note)
    _crashed(running, tally, note)
    if not may_refuse and any(run.statuses):
        tally.tell(f"{note}: refused: {run.err.strip()[-300:]}")
    read_back = outside.printed(run.out)
    tally.acknowledged += len(read_back)
    folder = running.last_log()
    before = outside.read(folder) if folder is not None else outside.Log((), b"", b"", "no folder")
    missing = outside.lost(read_back, before.entries, in_order=in_order)
    if missing:
        tally.lost += len(missing)
        tally.tell(f"{note}: lost {missing[:3]} of {len(read_back)}; {before.why}")
        return
    if folder is None or not before.entries:
        again = running.run([WORK, ["sessions"]], typed=f"{ANOTHER}\n")
        expect(tally, again, (0, 0), note, "a new session does not open")
        return
    commands: Commands = [("resume", folder, "--typed", "--quiet"), ("log", "check", folder)]
    again = running.run([*commands, *([["sessions"]] if lists else [])], typed=f"{ANOTHER}\n")
    if not expect(tally, again, (0,) * (3 if lists else 2), note, "does not go on"):
        return
    after = outside.read(folder)
    more = outside.printed(again.out)
    tally.acknowledged += len(more)
    if ("heard", ANOTHER) not in more:
        tally.tell(f"{note}: another call was not taken")
    missing = outside.lost([*read_back, *more], after.entries, in_order=in_order)
    if missing or not after.raw.startswith(before.raw) or after.rest:
        tally.lost += len(missing) or 1
        tally.tell(f"{note}: after resuming: lost {missing[:3]}; {after.why}")


def judge_whole(running: Running, tally: Tally, run: Run, note: str) -> None:
    """Look at a run in which the program was called again after the fault, by ``AGAIN``.

    Args:
        running: Where it ran.
        tally: What is counted in.
        run: What came of it.
        note: What went wrong in it.
    """
    tally.runs += 1
    untidy_in(tally, run, note)
    _crashed(running, tally, note)
    read_back = outside.printed(run.out)
    tally.acknowledged += len(read_back)
    folder = running.last_log()
    if folder is None or not outside.read(folder).entries:
        missing = read_back
        again = running.run([WORK, ["sessions"]], typed=f"{ANOTHER}\n")
        expect(tally, again, (0, 0), note, "a new session does not open")
    else:
        log = outside.read(folder)
        missing = outside.lost(read_back, log.entries)
        if missing and any(running.for_now.iterdir()):
            # What went on elsewhere, for now, is not what is resumed in the shop: each command's
            # own is in one log, and in its order.
            missing = _lost_by_command(running, run)
        if log.rest or run.statuses[-2:] != (0, 0) or ("heard", ANOTHER) not in read_back:
            tally.refused += 1
            tally.tell(f"{note}: does not go on: {run.statuses} {log.why} {run.err[-400:]}")
    if missing:
        tally.lost += len(missing)
        tally.tell(f"{note}: lost {missing[:3]} of {len(read_back)}")


def _lost_by_command(running: Running, run: Run) -> list[outside.Entry]:
    logs = [outside.read(each).entries for each in running.sessions()]
    missing: list[outside.Entry] = []
    for part in re.split(rf"^{re.escape(SEPARATOR)}.*\n", run.out, flags=re.MULTILINE):
        read_back = outside.printed(part)
        fewest: list[outside.Entry] = min((outside.lost(read_back, log) for log in logs), key=len)
        missing += fewest
    return missing


def expect(tally: Tally, run: Run, statuses: tuple[int, ...], note: str, what: str) -> bool:
    """Whether commands ended as they should; told where not."""
    untidy_in(tally, run, note)
    if run.statuses != statuses:
        tally.refused += 1
        tally.tell(
            f"{note}: {what}: {run.statuses} {run.ended} {run.err.strip()[-400:]} "
            f"{[line for line in run.out.splitlines() if 'problem' in line][:2]}"
        )
        return False
    return True


def _crashed(running: Running, tally: Tally, note: str) -> None:
    """Count what the program got over as its last resort, and wrote into a file: a traceback, too,
    where nobody sees it."""
    for path in sorted(running.data.rglob("crash*")):
        if path.is_file():
            tally.tracebacks += 1
            tally.tell(f"{note}: {path.read_text(errors='replace')[-1200:]}")


def untidy_in(tally: Tally, run: Run, note: str) -> None:
    """Count what was printed on standard error and is no sentence, and what hung."""
    if run.hung:
        tally.refused += 1
        tally.tell(f"{note}: hung")
    untidy = outside.untidy(run.err)
    if untidy:
        tally.tracebacks += 1
        tally.tell(f"{note}: {run.err.strip()[-1500:]}")
