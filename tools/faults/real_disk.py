"""A small real ext4 in a file, mounted through a loop device; only root may."""

from __future__ import annotations

import os
import shutil
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tools.faults.running import Tally

MEGABYTES = 4
TRIES = 40


class RealDisk:
    """The image of a file system, and where it is mounted.

    Args:
        image: The file; it is written.
        at: A folder to mount it at.
    """

    def __init__(self, image: Path, at: Path) -> None:
        self.image, self.at = image, at
        image.write_bytes(b"\0" * (MEGABYTES << 20))
        command = ["mkfs.ext4", "-q", "-F", "-m", "0", str(image)]
        subprocess.run(command, check=True, capture_output=True)
        self._empty = image.read_bytes()
        at.mkdir(exist_ok=True)

    @classmethod
    def made(cls, scratch: Path, tally: Tally) -> RealDisk | None:
        """Make one in a scratch folder; None where that cannot be, and the tally says so."""
        if os.getuid() != 0 or shutil.which("mkfs.ext4") is None:
            tally.notes.append(f"{tally.kind}: skipped, for want of root or mkfs.ext4")
            return None
        disk = cls(scratch / "image", scratch / "mounted")
        if not disk.mount():
            tally.notes.append(f"{tally.kind}: skipped, for no loop device is to be had")
            return None
        disk.unmount()
        return disk

    def clear(self) -> None:
        """Make it empty; it must not be mounted."""
        self.image.write_bytes(self._empty)

    def mount(self, options: str = "") -> bool:
        """Mount it; whether that could be done."""
        wanted = ",".join(part for part in ("loop", options) if part)
        command = ["mount", "-o", wanted, str(self.image), str(self.at)]
        return subprocess.run(command, capture_output=True).returncode == 0

    def unmount(self) -> None:
        """Unmount it, once nothing there is open any more."""
        for _ in range(TRIES):
            if subprocess.run(["umount", str(self.at)], capture_output=True).returncode == 0:
                return
            time.sleep(0.05)
        raise RuntimeError(f"{self.at} cannot be unmounted")

    @contextmanager
    def mounted(self, options: str = "") -> Iterator[None]:
        """Have it mounted until the block ends.

        Raises:
            RuntimeError: If it cannot be.
        """
        if not self.mount(options):
            raise RuntimeError(f"{self.image} cannot be mounted with {options!r}")
        try:
            yield
        finally:
            self.unmount()
