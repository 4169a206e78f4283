"""Calls that fail: each of a session once, and all from each on; and permissions taken away."""

from __future__ import annotations

import errno
import os
import pwd
from collections.abc import Iterator

from tools.faults.layer import (
    NAME,
    NOTHING_WRONG,
    OPEN,
    READ,
    SYNC,
    TRUNCATE,
    WRITE,
    Plan,
)
from tools.faults.running import (
    AGAIN,
    ANOTHER,
    CALLS,
    WORK,
    Running,
    Tally,
    judge,
    judge_whole,
    lines,
)

WHICH = {
    "open": OPEN,
    "read": READ,
    "write": WRITE,
    "sync": SYNC,
    "name": NAME,
    "truncate": TRUNCATE,
}


def io_errors(running: Running, step: int) -> Tally:
    """Let every ``step``-th call of each sort fail, in a new session and in one that is resumed."""
    tally = Tally("io-errors")
    typed = lines(CALLS[:5])
    for resumed in (False, True):
        for name, which in WHICH.items():
            _prepare(running, resumed)
            commands = [AGAIN[0]] if resumed else [WORK]
            many = running.run(commands, typed, Plan(fail_mask=which)).failing
            for at in running.mine(range(1, many + 1, step)):
                for ever in (False, True):
                    _prepare(running, resumed)
                    run = running.run(
                        [*commands, NOTHING_WRONG, *AGAIN],
                        typed,
                        Plan(fail_mask=which, fail_at=at, fail_ever=ever),
                        then=f"{ANOTHER}\n",
                    )
                    whole = "and all after it" if ever else "alone"
                    note = f"{name} {at} {whole} in {commands[0][0]}"
                    judge_whole(running, tally, run, note)
    return tally


def _prepare(running: Running, resumed: bool) -> None:
    running.fresh()
    if resumed:
        running.run([WORK], "gap thirty thou\n")


def permissions(running: Running, step: int) -> Tally:
    """Take permissions away: of every call by the layer, and of the folders themselves from a user
    who is not root."""
    tally = Tally("permissions")
    typed = lines(CALLS[:5])
    for which in (OPEN, NAME):
        running.fresh()
        many = running.run([WORK], typed, Plan(fail_mask=which)).failing
        for at in running.mine(range(1, many + 1, step)):
            running.fresh()
            plan = Plan(fail_mask=which, fail_at=at, fail_ever=True, fail_errno=errno.EACCES)
            run = running.run([WORK, NOTHING_WRONG, *AGAIN], typed, plan, then=f"{ANOTHER}\n")
            judge_whole(running, tally, run, f"no permission from call {at} on")
    if os.getuid() != 0:
        tally.notes.append("permissions: folders of another user skipped, this is not root")
        return tally
    nobody = pwd.getpwnam("nobody").pw_uid
    for mode, at in running.mine(list(_modes(running, typed, nobody, step))):
        _owned_by(running, nobody)
        folder = running.data / "sessions"
        run = running.run([WORK], typed, Plan(chmod=(at, folder, mode)), user=nobody)
        folder.chmod(0o755)
        judge(running, tally, run, note=f"mode {mode:o} from change {at} on")
    return tally


def _modes(running: Running, typed: str, user: int, step: int) -> Iterator[tuple[int, int]]:
    _owned_by(running, user)
    many = running.run([WORK], typed, user=user).changes
    for at in range(1, many + 1, step):
        yield 0o000, at
        yield 0o500, at


def _owned_by(running: Running, user: int) -> None:
    running.fresh()
    (running.data / "sessions").mkdir(parents=True)
    for folder in (running.root, running.data, running.data / "sessions"):
        os.chown(folder, user, user)
