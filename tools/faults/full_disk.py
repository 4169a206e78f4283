"""A disk that is full at every byte of a session, over the quota, or really full."""

from __future__ import annotations

import errno
import os
import shutil
from pathlib import Path

from tools.faults.layer import NOTHING_WRONG, Plan
from tools.faults.real_disk import RealDisk
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

SHORT_SESSION = ("gap thirty thou", "park job")


def every_byte(running: Running, step: int) -> Tally:
    """Let the disk be full after every ``step`` bytes of a session; then there is room again."""
    return _filled(running, Tally("disk-full"), errno.ENOSPC, step)


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


BLOCK = 1024
"""Bytes that the small file system gives out at once."""


def real(running: Running, step: int) -> Tally:
    """Fill a real ext4 but for every ``step``-th number of blocks that a session may need."""
    tally = Tally("real-full")
    disk = RealDisk.made(running.scratch, tally)
    if disk is None:
        return tally
    for blocks in running.mine(range(0, 60, step)):
        disk.clear()
        with disk.mounted():
            shop = disk.at / "shop"
            shop.mkdir()
            running.fresh(shop)
            filler = disk.at / "filler"
            _fill(filler, blocks)
            run = running.run([WORK], lines(CALLS))
            filler.unlink()
            judge(running, tally, run, note=f"{blocks} blocks free")
    return tally


def _fill(filler: Path, blocks: int) -> None:
    room = shutil.disk_usage(filler.parent).free - blocks * BLOCK
    with filler.open("wb") as file:
        # A large file takes some blocks besides, so it is written until nothing more is free.
        while room > 0:
            try:
                file.write(bytes(min(room, 64 * BLOCK)))
                file.flush()
                os.fsync(file.fileno())
            except OSError:
                break
            room = shutil.disk_usage(filler.parent).free - blocks * BLOCK
