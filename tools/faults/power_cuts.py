"""Power cuts: after each thing that a session did, disks as a cut may leave them."""

from __future__ import annotations

from tools.faults.disk_model import WAYS, Disk, emptied, trees_differ
from tools.faults.layer import R_OPEN, R_PRINT, Done, Plan
from tools.faults.recording import Recorded, recorded
from tools.faults.running import AGAIN, CALLS, WORK, Run, Running, Tally, judge, lines

LATER = ("engine stopped", "drained eighteen ounces of oil", "close job")
"""Calls of the second part, after the job was parked."""


def run(running: Running, most: int) -> Tally:
    """Cut the power at least ``most`` times in all shares together."""
    tally = Tally("power-cuts")
    running.fresh()
    whole = _session(running)
    _check_record(running, tally, whole)
    done = whole.done
    every = most / running.shares / (len(done) + 1)
    disk, printed, due = Disk(running.root), b"", running.random.random()
    for number in range(len(done) + 1):
        due += every
        while due >= 1:
            due -= 1
            _cut(running, tally, disk, printed, number, done)
        if number < len(done):
            disk.do(done[number])
            if done[number].op == R_PRINT:
                printed += done[number].data
    _after_kills(running, tally, 7 if most < 500 else 1)
    return tally


def _after_kills(running: Running, tally: Tally, step: int) -> None:
    """Kill the program at its beginning, start it again, and cut the power when that has ended:
    what the first had made and not synced, the second must sync."""
    running.fresh()
    done = recorded(running, [WORK], lines(CALLS[:1])).done
    ops = [each.op for each in done if each.op != R_OPEN or each.length]
    for at in running.mine(range(1, ops.index(R_PRINT) + 1, step)):
        running.fresh()
        first = recorded(running, [WORK], lines(CALLS[:1]), Plan(kill_at=at))
        second = recorded(running, [WORK], lines(CALLS[:3]))
        if first.run.out:
            break
        disk = Disk(running.root)
        for each in (*first.done, *second.done):
            disk.do(each)
        for way in ("nothing unsynced", "sectors"):
            running.fresh()
            disk.put(running.root, way, way, running.random)
            note = f"after a kill at change {at} and a whole session, {way}"
            judge(running, tally, second.run, lists=True, note=note)


def _session(running: Running) -> Recorded:
    """A job that is parked, listed, gone on with and closed."""
    first = recorded(running, [WORK, ["sessions"]], lines(CALLS))
    second = recorded(running, [AGAIN[0], ["sessions"]], lines(LATER))
    return Recorded(second.run, (*first.done, *second.done))


def _check_record(running: Running, tally: Tally, whole: Recorded) -> None:
    """What was recorded, done again, gives the tree that is really there: nothing went past it."""
    disk = Disk(running.root)
    for done in whole.done:
        disk.do(done)
    again = emptied(running.scratch / "again")
    disk.now(again)
    differ = trees_differ(running.root, again)
    # The shared memory of the index's journal is written without any call, and is never read back.
    differ = [name for name in differ if not name.endswith("-shm")]
    if differ:
        tally.tell(f"the record lacks something: {differ}")


def _cut(
    running: Running, tally: Tally, disk: Disk, printed: bytes, number: int, done: tuple[Done, ...]
) -> None:
    names, data = running.random.choice(WAYS), running.random.choice(WAYS)
    running.fresh()
    disk.put(running.root, names, data, running.random)
    at = f"{done[number - 1]}"[:160] if number else "nothing"
    note = f"after {number} ({at}), names: {names}, bytes: {data}"
    judge(running, tally, _as_run(printed), lists=True, note=note)


def _as_run(printed: bytes) -> Run:
    return Run((), 0, False, printed.decode(), "", 0, 0, 0, 0, 0)
