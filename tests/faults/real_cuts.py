"""Power cuts of a real ext4: its image copied at a moment of a session, and the copy mounted."""

from __future__ import annotations

import os
import shutil
import subprocess
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.faults.disk_model import Disk
from tests.faults.layer import Done, Plan, read_record
from tests.faults.running import CALLS, WORK, Run, Running, Tally, judge, lines

MEGABYTES = 4
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
    tally = Tally("power cuts of a real ext4")
    if os.getuid() != 0 or shutil.which("mkfs.ext4") is None:
        tally.notes.append("power cuts of a real ext4: skipped, for want of root or mkfs.ext4")
        return tally
    image, at = running.scratch / "image", running.scratch / "mounted"
    image.write_bytes(b"\0" * (MEGABYTES << 20))
    subprocess.run(["mkfs.ext4", "-q", "-F", str(image)], check=True, capture_output=True)
    at.mkdir()
    empty = image.read_bytes()
    turn = 0
    while tally.runs * running.shares < most:
        options = OPTIONS[turn % len(OPTIONS)]
        turn += 1
        image.write_bytes(empty)
        if not _mount(image, at, options):
            tally.notes.append(
                "power cuts of a real ext4: skipped, for no loop device is to be had"
            )
            return tally
        try:
            (at / "shop").mkdir()
            os.sync()
            cuts, done = _session(running, image, at / "shop")
        finally:
            _unmount(at)
        found = [_look(running, tally, image, at, cut, options) for cut in cuts]
        _hold_against_model(tally, at / "shop", done, list(zip(cuts, found, strict=True)))
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


def _look(
    running: Running, tally: Tally, image: Path, at: Path, cut: Cut, options: str
) -> Path | None:
    """Mount the image of a cut, which plays its journal; keep the tree, and judge it."""
    image.write_bytes(cut.image)
    if not _mount(image, at, options):
        tally.tell(f"an image that was cut does not mount ({options})")
        return None
    try:
        kept = running.scratch / f"found-{tally.runs % (MOMENTS + 1)}"
        shutil.rmtree(kept, ignore_errors=True)
        # Cut before the folder itself was certain, there is nothing to look at.
        if not (at / "shop").is_dir():
            return None
        shutil.copytree(at / "shop", kept)
        running.fresh(at / "shop")
        run = Run((), 0, False, cut.out, "", 0, 0, 0, 0, 0)
        judge(running, tally, run, note=f"ext4 with {options or 'its defaults'}")
        return kept
    finally:
        _unmount(at)


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


def _mount(image: Path, at: Path, options: str) -> bool:
    wanted = ",".join(part for part in ("loop", options) if part)
    done = subprocess.run(["mount", "-o", wanted, str(image), str(at)], capture_output=True)
    return done.returncode == 0


def _unmount(at: Path) -> None:
    for _ in range(TRIES):
        if subprocess.run(["umount", str(at)], capture_output=True).returncode == 0:
            return
        time.sleep(0.05)
    raise RuntimeError(f"{at} cannot be unmounted")
