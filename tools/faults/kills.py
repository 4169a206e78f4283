"""Killed: before every call that changes something, within every write, and at random."""

from __future__ import annotations

import signal
from dataclasses import replace

from tools.faults.layer import Plan
from tools.faults.recording import recorded
from tools.faults.running import AGAIN, CALLS, WORK, Running, Started, Tally, judge, lines

TYPED = lines(CALLS)


def run(running: Running, most: int, short: bool) -> Tally:
    """Kill the program in every way, at least ``most`` times in all shares together."""
    tally = Tally("kills")
    running.fresh()
    done = recorded(running, [WORK], TYPED)
    changes = done.run.changes
    step = 13 if short else 1
    for at in running.mine(range(1, changes + 1, step)):
        _killed(running, tally, Plan(kill_at=at), at)
    # Within a write: at its first byte, at its last but one, and somewhere between.
    for at in running.mine(range(3, changes + 1, 3 * step)):
        for within in (1, running.random.randrange(2, 400)):
            _killed(running, tally, Plan(kill_at=at, kill_within=within), at)
    # While what an earlier kill left torn is got over.
    running.fresh()
    running.run([WORK], lines(CALLS[:4]))
    for at in running.mine(range(1, running.run([AGAIN[0]], TYPED).changes + 1, step)):
        _killed_again(running, tally, changes, at)
    while tally.runs * running.shares < most:
        _killed_sometime(running, tally)
    return tally


def _killed(running: Running, tally: Tally, plan: Plan, at: int) -> None:
    running.fresh()
    ended = running.run([WORK], TYPED, plan)
    note = f"at change {at}, {plan.kill_within}"
    judge(running, tally, ended, lists=at % 9 == 0, note=note)


def _killed_again(running: Running, tally: Tally, changes: int, at: int) -> None:
    running.fresh()
    plan = Plan(kill_at=running.random.randrange(changes // 4, changes), kill_within=40)
    first = running.run([WORK], TYPED, plan)
    if not running.sessions():
        return
    second = running.run([AGAIN[0]], TYPED, Plan(kill_at=at, kill_within=40))
    # What the first had not printed to the end of its line does not count.
    out = first.out[: first.out.rfind("\n") + 1] + second.out
    note = f"at change {plan.kill_at}, and at change {at} of resuming"
    judge(running, tally, replace(second, out=out), note=note)


def _killed_sometime(running: Running, tally: Tally) -> None:
    running.fresh()
    moment = running.random.uniform(0.0, 0.12)

    def kill(started: Started) -> None:
        started.goes_on(moment)
        started.send(signal.SIGKILL)

    judge(running, tally, running.run([WORK], TYPED, meanwhile=kill), note=f"after {moment:.4f} s")
