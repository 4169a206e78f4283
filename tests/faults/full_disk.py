"""A disk that is full at every byte of a session, over the quota, or really full."""

from __future__ import annotations

import errno

from tests.faults.layer import NOTHING_WRONG, Plan
from tests.faults.running import AGAIN, ANOTHER, WORK, Running, Tally, judge_whole, lines

SHORT_SESSION = ("gap thirty thou", "park job")


def every_byte(running: Running, step: int) -> Tally:
    """Let the disk be full after every ``step`` bytes of a session; then there is room again."""
    return _filled(running, Tally("disk full"), errno.ENOSPC, step)


def quota(running: Running, step: int) -> Tally:
    """The same with the quota of the user."""
    return _filled(running, Tally("quota"), errno.EDQUOT, step)


def _filled(running: Running, tally: Tally, error: int, step: int) -> Tally:
    running.fresh()
    typed = lines(SHORT_SESSION)
    whole = running.run([WORK], typed).bytes
    for space in running.mine(range(0, whole + 1, step)):
        running.fresh()
        # The second session takes its calls from the same input, which the first has read to its
        # end; so it is given its own.
        run = running.run(
            [WORK, NOTHING_WRONG, *AGAIN],
            typed,
            Plan(space=space, space_errno=error),
            then=f"{ANOTHER}\n",
        )
        judge_whole(running, tally, run, f"room for {space} of {whole} bytes")
    return tally
