"""Two to six programs at one session: one works at it, others review it or want to work, too; some
are killed."""

from __future__ import annotations

import re
import signal
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from tools.faults import outside
from tools.faults.running import (
    ANOTHER,
    CALLS,
    WORK,
    Running,
    Started,
    Tally,
    judge,
    lines,
    untidy_in,
)

REVIEWED = re.compile("reviewed (.+)\n")


def run(running: Running, most: int) -> Tally:
    """Let several programs at a session, at least ``most`` times in all shares together."""
    tally = Tally("several")
    while tally.runs * running.shares < most:
        _together(running, tally, 2 + tally.runs % 5)
    return tally


def _together(running: Running, tally: Tally, programs: int) -> None:
    running.fresh()
    first = running.run([WORK], lines(CALLS[:2]))
    folder = running.sessions()[0]
    note = f"{programs} programs"
    bench = running.start([("resume", "--typed", "--quiet")], lines((*CALLS[2:], *CALLS[:3])))
    others = [
        running.start([_reviewer(folder, f"{place}")])
        if place % 3
        else running.start([("resume", "--typed", "--quiet")], f"{ANOTHER}\n")
        for place in range(1, programs)
    ]
    if tally.runs % 2:
        _kill_one(running, [bench, *others])
    ended = [each.ended() for each in (bench, *others)]
    for each in ended[1:]:
        untidy_in(tally, each, note)
    log = outside.read(folder)
    said = [words for each in ended for words in REVIEWED.findall(each.out)]
    tally.acknowledged += len(said)
    missing = [words for words in said if words.encode() not in log.raw]
    read_back = [outside.printed(each.out) for each in (first, *ended)]
    tally.acknowledged += sum(map(len, (read_back[0], *read_back[2:])))
    missing += [
        str(each) for some in read_back for each in outside.lost(some, log.entries, in_order=False)
    ]
    if missing:
        tally.lost += len(missing)
        tally.tell(f"{note}: lost {missing[:3]}; {log.why}")
    judge(running, tally, ended[0], in_order=False, note=note)


def _kill_one(running: Running, started: list[Started]) -> None:
    victim = running.random.choice(started)
    if victim.goes_on(running.random.uniform(0.0, 0.1)):
        victim.send(signal.SIGKILL)


def _reviewer(folder: Path, name: str) -> Callable[[], int]:
    """A program that reviews a session, as the page does, and prints what it was told is kept."""

    def review() -> int:
        from companion.job.events import Heard
        from companion.review.reviewer import open_review

        with open_review(folder) as reviewer:
            heard = [each.seq for each in reviewer.records if isinstance(each.event, Heard)]
            for turn in range(6):
                words = f"looked at by {name} for the {turn}. time"
                outcome = reviewer.wrong(
                    heard[turn % len(heard)], by=name, why=words, at=datetime.now().astimezone()
                )
                if outcome.kind == "recorded":
                    print(f"reviewed {words}", flush=True)
        return 0

    return review
