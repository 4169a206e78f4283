"""Power cuts of a real ext4: its image copied at a moment of a session, and the copy mounted."""

from __future__ import annotations

import os
import shutil
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from tools.faults.disk_model import Disk
from tools.faults.layer import Done, Plan, read_record
from tools.faults.real_disk import RealDisk
from tools.faults.running import CALLS, WORK, Run, Running, Tally, judge, lines

OPTIONS = ("", "data=journal", "data=writeback", "nodelalloc", "commit=1,nodelalloc")
"""How the file system is mounted, one after the other."""
MOMENTS = 8
"""Cuts of one session."""
TRIES = 20


@dataclass(frozen=True, slots=True)
class Cut:
    """An image as it was at a moment.

    Attributes:
        image: All of it.
        out: What the program had printed before.
        begun: When it was copied, on the monotonic clock.
        ended: The same of the end of that.
    """

    image: bytes
    out: str
    begun: float
    ended: float


def run(running: Running, most: int) -> Tally:
    """Cut at least ``most`` times in all shares together, and hold every disk against the model."""
    tally = Tally("real-cuts")
    disk = RealDisk.made(running.scratch, tally)
    turn = 0
    while disk is not None and tally.runs * running.shares < most:
        options = OPTIONS[turn % len(OPTIONS)]
        turn += 1
        disk.clear()
        with disk.mounted(options):
            (disk.at / "shop").mkdir()
            os.sync()
            cuts, done = _session(running, disk.image, disk.at / "shop")
        found = [_look(running, tally, disk, cut, options) for cut in cuts]
        _hold_against_model(tally, disk.at / "shop", done, list(zip(cuts, found, strict=True)))
    return tally


def _session(running: Running, image: Path, root: Path) -> tuple[list[Cut], tuple[Done, ...]]:
    running.fresh(root)
    path = running.scratch / "record"
    record = os.open(path, os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND, 0o600)
    try:
        started = running.start([WORK], lines(CALLS), Plan(record=record))
        cuts: list[Cut] = []
        while len(cuts) < MOMENTS and started.goes_on(running.random.uniform(0.0, 0.03)):
            cut = _copied(image, started.out())
            if cut is not None:
                cuts.append(cut)
        ended = started.ended()
        last = _copied(image, ended.out)
        if last is not None:
            cuts.append(last)
    finally:
        os.close(record)
    return cuts, tuple(read_record(path.read_bytes()))


def _copied(image: Path, out: str) -> Cut | None:
    """The image as it was at one moment: what is read twice alike was so in between."""
    begun = time.monotonic()
    first = image.read_bytes()
    for _ in range(TRIES):
        ended = time.monotonic()
        second = image.read_bytes()
        if first == second:
            return Cut(first, out, begun, ended)
        begun, first = ended, second
    return None


def _look(running: Running, tally: Tally, disk: RealDisk, cut: Cut, options: str) -> Path | None:
    """Mount the image of a cut, which plays its journal; keep the tree, and judge it."""
    disk.image.write_bytes(cut.image)
    with disk.mounted(options):
        shop, kept = disk.at / "shop", running.scratch / f"found-{tally.runs % (MOMENTS + 1)}"
        shutil.rmtree(kept, ignore_errors=True)
        # Cut before the folder itself was certain, there is nothing to look at.
        if not shop.is_dir():
            return None
        shutil.copytree(shop, kept)
        running.fresh(shop)
        run = Run((), 0, False, cut.out, "", 0, 0, 0, 0, 0)
        judge(running, tally, run, note=f"ext4 with {options or 'its defaults'}")
        return kept


def _hold_against_model(
    tally: Tally, root: Path, done: Sequence[Done], cuts: list[tuple[Cut, Path | None]]
) -> None:
    """Whether each disk is among those that the model calls possible at that moment."""
    disk = Disk(root)
    differs: dict[int, str | None] = {}
    for number in range(len(done) + 1):
        for place, (cut, found) in enumerate(cuts):
            # What was under way may have been done in part, and is written down when it is done.
            before = number < len(done) and done[number].at < cut.begun
            after = number > 1 and done[number - 2].at > cut.ended
            if found is None or before or after or differs.get(place, "") is None:
                continue
            differs[place] = disk.may_hold(found)
        if number < len(done):
            disk.do(done[number])
    for why in differs.values():
        tally.checked += 1
        if why is not None:
            tally.tell(f"the model does not know what a real disk showed: {why}")
